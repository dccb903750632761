"""Waste: everything that is used up goes into one bin, and the bin suits all that is in it."""

from __future__ import annotations

from math import fsum
from types import SimpleNamespace
from typing import Any, cast

import pytest

from kb.engine.plan import Engine
from kb.quantities.estimate import Estimate, estimate
from kb.quantities.usage import Use
from kb.quantities.waste import streams
from tests.quantities.jobs import BOARD, BRACKET, job_with, planned, with_adhesive


@pytest.fixture(scope="module")
def bracket(engine: Engine) -> Estimate:
    return estimate(*with_adhesive(job_with(BRACKET), engine, "epoxy-room-cure-two-part", "room"))


def kinds_of(found: Estimate, item: str) -> set[str]:
    return {kind for stream in found.waste if item in stream.items for kind in stream.kinds}


def test_nothing_is_binned_twice_and_nothing_lost(bracket: Estimate) -> None:
    for unit in ("mL", "g", "cm2", "piece", "cm"):
        binned = fsum(stream.amounts.get(unit, 0.0) for stream in bracket.waste)
        used = fsum(
            x.waste if x.entry.kind in ("adhesive", "coating", "solder", "wire") else x.gross
            for x in bracket.lines
            if x.unit == unit and x.entry.kind != "backing" and not all(u.reused for u in x.uses)
        )
        assert binned == pytest.approx(used, abs=len(bracket.lines)), unit  # pieces are rounded up in the lines


def test_kinds(bracket: Estimate) -> None:
    degreaser = bracket.chain.pick("degreaser").entry
    assert degreaser is not None
    assert ("flammable" in kinds_of(bracket, degreaser.id)) is ("flammable" in degreaser.facts["hazards"])
    assert "sensitiser" in kinds_of(bracket, "epoxy-room-cure-two-part")
    assert "sensitiser" in kinds_of(bracket, "mixing-cup")
    assert "sharps" in kinds_of(bracket, "scalpel-blade")


def test_acid_and_alkaline_are_never_in_one_bin(engine: Engine) -> None:
    found = estimate(*planned(job_with(BOARD), engine))
    assert all(not {"acid", "alkaline"} <= set(stream.kinds) for stream in found.waste)


def test_every_bin_says_how_it_is_kept(bracket: Estimate) -> None:
    for stream in bracket.waste:
        assert stream.kinds == ("ordinary",) or len(stream.keep) == len(stream.kinds), stream


def test_what_is_soldered_and_laid_stays_and_is_of_its_own_kind(bracket: Estimate) -> None:
    wire, solder = (bracket.chain.pick(slot).entry for slot in ("wire", "solder"))
    assert wire is not None
    assert solder is not None
    lost = {line.entry.id: line.waste for line in bracket.lines}
    cable = fsum(stream.amounts["cm"] for stream in bracket.waste if wire.id in stream.items)
    assert cable == pytest.approx(lost[wire.id])
    assert "flammable" not in kinds_of(bracket, wire.id) | kinds_of(bracket, solder.id)  # as the flux's liquid is
    assert "flammable" in kinds_of(bracket, "cotton-swab")


def test_what_is_used_again_is_no_waste(bracket: Estimate) -> None:
    binned = {item for stream in bracket.waste for item in stream.items}
    assert not binned & {"pointed-tweezers", "silicone-rubber-pad", "glass-lay-out-plate"}


TABLE = [
    {"kind": "flammable", "hazards": ["flammable"], "aids": [], "dust_stages": (), "do": "in a closed can"},
    {
        "kind": "toxic-dust",
        "hazards": [],
        "aids": [],
        "dust_stages": ("strip", "abrade-dry"),
        "do": "wet, in a bag",
    },
    {"kind": "sharps", "hazards": [], "aids": ["blade"], "dust_stages": (), "do": "in a box"},
]


def use(item: str, kind: str, stage: str, unit: str, *hazards: str, reused: bool = False) -> Use:
    """A use of an item, with what the bins look at."""
    entry = SimpleNamespace(id=item, kind=kind, facts={"hazards": hazards})
    return cast(Use, SimpleNamespace(entry=entry, stage=stage, unit=unit, reused=reused))


WIPE = use("wipe", "aid", "degrease", "piece")
ALCOHOL = use("alcohol", "degreaser", "degrease", "mL", "flammable")
PAPER = use("paper", "abrasive", "abrade-dry", "cm2")
GLUE = use("glue", "adhesive", "mount", "g")
BY_KIND = {"stays": ("adhesive",), "soaks": ("aid", "abrasive"), "apart": ("backing",)}


def binned(*thrown: tuple[Use, float, float], dusty: bool = False) -> list[tuple[Any, ...]]:
    return [(s.kinds, s.items, dict(s.amounts), s.keep) for s in streams(thrown, TABLE, BY_KIND, dusty)]


def test_wipes_are_of_the_kinds_of_their_liquid() -> None:
    flammable = (("flammable",), ("alcohol", "wipe"), {"mL": 5.0, "piece": 2.0}, ("in a closed can",))
    assert binned((WIPE, 2, 0), (ALCOHOL, 4, 1)) == [flammable]
    other_stage = use("wipe", "aid", "protect", "piece")
    assert binned((other_stage, 2, 0), (ALCOHOL, 4, 1))[0] == (("ordinary",), ("wipe",), {"piece": 2.0}, ())


def test_of_glue_only_what_is_lost_is_thrown_away() -> None:
    assert binned((GLUE, 10, 2)) == [(("ordinary",), ("glue",), {"g": 2.0}, ())]
    assert binned((GLUE, 10, 0), (PAPER, 0, 0)) == []


def test_what_dusts_is_kept_apart_where_the_part_is_dusty() -> None:
    acid = use("acid", "conditioner", "strip", "mL")
    assert [kinds for kinds, *_ in binned((PAPER, 5, 0), dusty=True)] == [("toxic-dust",)]
    assert [kinds for kinds, *_ in binned((PAPER, 5, 0), dusty=False)] == [("ordinary",)]
    assert [kinds for kinds, *_ in binned((WIPE, 5, 0), dusty=True)] == [("ordinary",)]
    assert [kinds for kinds, *_ in binned((acid, 5, 0), dusty=True)] == [("ordinary",)]
    wet = use("wet paper", "abrasive", "abrade-wet", "cm2")
    assert [kinds for kinds, *_ in binned((wet, 5, 0), dusty=True)] == [("ordinary",)], "no row of the table says so"


def test_bins_their_items_and_their_units_stand_in_one_order() -> None:
    blade = use("blade", "aid", "strip", "piece")
    found = binned((WIPE, 1, 0), (blade, 1, 0), (PAPER, 5, 0), (ALCOHOL, 1, 0), dusty=True)
    assert [kinds for kinds, *_ in found] == [("flammable",), ("sharps", "toxic-dust"), ("toxic-dust",)]
    assert found[0][1] == ("alcohol", "wipe")
    assert list(found[0][2]) == ["mL", "piece"]
    assert found[1][3] == ("in a box", "wet, in a bag")


def test_what_is_used_again_or_stays_on_the_part_is_in_no_bin() -> None:
    kept = use("tweezers", "aid", "mount", "piece", reused=True)
    assert binned((kept, 1, 0), (use("film", "backing", "mount", "piece"), 1, 0)) == []
