"""The address of every page, filled from the demo of the invented Fennimore Lane Test Room."""

from __future__ import annotations

from kb.demo import jobs
from kb.job import read_job
from kb.web.forms import query_of

_JOBS = {name: query_of(read_job(path)) for name, path in jobs().items()}
BOARD, BRACKET, SEAL = _JOBS["board"], _JOBS["bracket"], _JOBS["seal"]
IMPOSSIBLE = "part.substrate=ptfe&service.temperature_c.0=0&service.temperature_c.1=320"
DESCRIBED = (
    "part.substrate.family=polyamide&part.substrate.max_temperature_c=90"
    "&service.temperature_c.0=0&service.temperature_c.1=60"
)
CHANGED = f"{BRACKET}&service.exposures=salt-fog&before={BRACKET.replace('&', '%26').replace('=', '%3D')}"

#: Each page by the name of its picture in the docs.
PAGES = {
    "choose": "/",
    "choose-answered": f"/?{BOARD}",
    "choose-changed": f"/?{CHANGED}",
    "choose-described": f"/?{DESCRIBED}",
    "choose-no-chain": f"/?{IMPOSSIBLE}",
    "choose-fault": "/?part.substrate=brass",
    "problems": "/problems",
    "not-found": "/nowhere",
    "enter": "/enter",
}
