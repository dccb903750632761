"""The bar says in few words what the job is, and leads to the same job with the same chain."""

from __future__ import annotations

from urllib.parse import parse_qsl

from starlette.requests import Request

from kb.web.jobbar import JobBar, bar_of
from tests.web.addresses import BOARD, BRACKET, DESCRIBED


def bar(query: str) -> JobBar | None:
    return bar_of(Request({"type": "http", "query_string": query.encode(), "headers": [], "path": "/"}))


def test_it_says_what_the_part_is_and_what_it_must_stand() -> None:
    found = bar(BRACKET)
    assert found is not None
    assert (found.part, found.service) == ("Ti-6Al-4V", "-20 to 110 degC, mineral oil, mechanical wear")
    assert found.deadline == "ready within 120 h; planned for 2027-03-08"


def test_it_keeps_the_chain_and_drops_what_only_one_page_asked() -> None:
    found = bar(f"{BOARD}&chain=2&prefer=time&item=acetone&lots=yes&on=")
    assert found is not None
    kept = dict(parse_qsl(found.query))
    assert (kept["chain"], kept["prefer"]) == ("2", "time")
    assert not {"item", "lots", "on"} & set(kept)
    assert set(dict(parse_qsl(BOARD))) <= set(kept)


def test_a_described_part_has_a_bar_and_no_job_has_none() -> None:
    found = bar(DESCRIBED)
    assert found is not None
    assert found.part == "polyamide"
    assert bar("item=acetone") is None
    assert bar("service.temperature_c.0=3") is None


def test_a_chain_that_was_chosen_is_told() -> None:
    chosen, free = bar(f"{BOARD}&choose.adhesive.0=x"), bar(f"{BOARD}&choose.prefer=time")
    assert [one is not None and one.kept for one in (chosen, free)] == [True, False]
