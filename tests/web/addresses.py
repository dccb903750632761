"""The address of every page, filled from the demo of the invented Fennimore Lane Test Room."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from kb.job import read_job
from kb.planning.demo import jobs
from kb.web.forms import query_of
from tests.stock.factory import record

_JOBS = {name: query_of(read_job(path)) for name, path in jobs().items()}
BOARD, BRACKET, SEAL = _JOBS["board"], _JOBS["bracket"], _JOBS["seal"]
IMPOSSIBLE = "part.substrate=ptfe&service.temperature_c.0=0&service.temperature_c.1=320"
DESCRIBED = (
    "part.substrate.family=polyamide&part.substrate.max_temperature_c=90"
    "&service.temperature_c.0=0&service.temperature_c.1=60"
)
CHANGED = f"{BRACKET}&service.exposures=salt-fog&before={BRACKET.replace('&', '%26').replace('=', '%3D')}"

#: A room as somebody has just measured it.
MEASURED = "bench.air_temperature_c=22&bench.relative_humidity_pct=45&bench.part_temperature_c=22&measured=yes"
ADHESIVE = "ethyl-cyanoacrylate-low-viscosity"
#: Each page by the name of its picture in the docs.
PAGES = {
    "choose": "/",
    "choose-answered": f"/?{BOARD}",
    "choose-changed": f"/?{CHANGED}",
    "choose-described": f"/?{DESCRIBED}",
    "choose-no-chain": f"/?{IMPOSSIBLE}",
    "choose-fault": "/?part.substrate=brass",
    "choose-which": "/?part.substrate=nylon+brass&service.temperature_c.0=0&service.temperature_c.1=60",
    "refused": f"/refused?{BOARD}",
    "why-out": f"/why?{BOARD}&item=epoxy-phenolic-medium",
    "why-behind": f"/why?{BOARD}&item=methyl-cyanoacrylate-low-viscosity",
    "holds": f"/holds?{BOARD}",
    "holds-no-chain": f"/holds?{IMPOSSIBLE}",
    "compare": f"/compare?{BOARD}&a=1&b=3",
    "pair": "/pair",
    "pair-checked": "/pair?thing=acetone&thing=polycarbonate",
    "matrix": "/matrix?rows=conditioner&columns=treatment",
    "matrix-large": "/matrix?rows=substrate&columns=coating&family=acetal",
    "amounts": f"/amounts?{BOARD}",
    "amounts-no-job": "/amounts",
    "bench-run": f"/bench-run?{BOARD}&gauges=2",
    "room": f"/room?{BOARD}",
    "room-wet": f"/room?{BOARD}&{MEASURED.replace('=45', '=95')}&activated_h=2",
    "timeline": f"/timeline?{SEAL}",
    "pictures": f"/pictures?{BRACKET}",
    "pick": f"/pick?{BOARD}",
    "sheet": f"/sheet?{BOARD}&lots=yes",
    "approval": f"/approval?{BOARD}&paper=letter",
    "record": f"/record?{BOARD}",
    "trace": "/trace?of=IPA-31",
    "shelf": "/shelf",
    "shelf-lot": "/shelf/lots/IPA-31",
    "shelf-lot-expired": "/shelf/lots/CA-05",
    "shelf-receive": "/shelf/receive",
    "shelf-import": "/shelf/import",
    "shelf-scan-unknown": "/shelf/scan?code=01040123456789011715012910ABC123",
    "job": f"/job?{BOARD}",
    "coverage": "/coverage?family=glass",
    "pair-for-a-job": f"/pair?{BOARD}&thing=acetone&thing=polycarbonate",
    "catalog": "/catalog?kind=adhesive",
    "catalog-words": "/catalog?words=glass+filled+nylon&kind=adhesive&family=cyanoacrylate",
    "item": "/catalog/ethyl-cyanoacrylate-low-viscosity",
    "rules": "/rules?verdict=need",
    "rule": "/rules/acid-must-be-neutralised",
    "sources": "/sources",
    "problems": "/problems",
    "not-found": "/nowhere",
    "enter": "/enter",
}


def fill(workspace: Path) -> None:
    """Put lots on the shelf of the invented lab: some good, one expired, one opened long ago, one nearly empty."""

    def came(lot: str, item: str, quantity: str, unit: str, **more: Any) -> dict[str, Any]:
        given = {"lot": lot, "item": item, "quantity": quantity, "unit": unit, "received": "2026-11-02", **more}
        return {"type": "received", "at": "2026-11-02", "who": "kim", "location": "cupboard 2", **given}

    drafts: list[dict[str, Any]] = [
        came("IPA-31", "isopropyl-alcohol", "500", "mL", expires="2028-06-30", storage_c=20),
        came(
            "CA-07",
            "ethyl-cyanoacrylate-low-viscosity",
            "20",
            "g",
            expires="2027-05-31",
            storage_c=5,
            location="fridge",
        ),
        came(
            "CA-05",
            "ethyl-cyanoacrylate-low-viscosity",
            "20",
            "g",
            expires="2027-01-31",
            storage_c=5,
            location="fridge",
        ),
        came("PU-12", "polyurethane-lacquer-air-drying", "100", "g", expires="2027-03-20", storage_c=20),
        came("<b>odd</b>", "mild-phosphoric-conditioner", "250", "mL", expires="2028-01-31", storage_c=20),
        {"type": "opened", "at": "2027-02-01", "who": "kim", "lot": "IPA-31"},
        {"type": "used", "at": "2027-02-02", "who": "kim", "lot": "IPA-31", "quantity": "40", "unit": "mL"},
    ]
    record(workspace, drafts)
