"""Waste: everything that is used up goes into one bin, and the bin suits all that is in it."""

from __future__ import annotations

from math import fsum

import pytest

from kb.engine.plan import Engine
from kb.quantities.estimate import Estimate, estimate
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
            x.waste if x.entry.kind in ("adhesive", "coating") else x.gross
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


def test_what_is_used_again_is_no_waste(bracket: Estimate) -> None:
    binned = {item for stream in bracket.waste for item in stream.items}
    assert not binned & {"pointed-tweezers", "silicone-rubber-pad", "glass-lay-out-plate"}
