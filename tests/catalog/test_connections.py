"""Laws that every joint, flux and wire obeys: order of limits, and that each finds what it is used with."""

from __future__ import annotations

import pytest

from kb.base.vocabulary import EXPOSURES, FAMILIES
from kb.knowledge import Entry, Knowledge

JOINTS, FLUXES, WIRES = "solder", "flux", "wire"


def entries(knowledge: Knowledge, kind: str) -> tuple[Entry, ...]:
    return tuple(knowledge.by_kind[kind])


@pytest.mark.parametrize("kind", [JOINTS, FLUXES, WIRES])
def test_every_family_has_a_member(kind: str, knowledge: Knowledge) -> None:
    assert {entry.family for entry in entries(knowledge, kind)} == set(FAMILIES[kind])


def test_limits_are_ordered_and_no_joint_serves_near_its_melting(knowledge: Knowledge) -> None:
    for entry in (*entries(knowledge, JOINTS), *entries(knowledge, WIRES)):
        facts = entry.facts
        assert facts["min_c"] < facts["max_c"] <= facts["short_max_c"], entry.id
        if "melts_at_c" in facts:
            assert facts["short_max_c"] + 20 <= facts["melts_at_c"] <= facts["flows_at_c"], entry.id
            assert facts["flows_at_c"] < facts["joint_at_c"], entry.id


def test_a_solder_needs_flux_and_nothing_else_does(knowledge: Knowledge) -> None:
    for entry in entries(knowledge, JOINTS):
        assert entry.facts["needs_flux"] == (entry.facts["method"] == "solder"), entry.id
        assert ("melts_at_c" in entry.facts) == (entry.facts["method"] == "solder"), entry.id


def test_every_wire_has_a_joint_that_lasts_as_hot_as_it_does(knowledge: Knowledge) -> None:
    """Or the job of that wire could never be done; what is made up with its gauge needs none."""
    for wire in entries(knowledge, WIRES):
        joints = [j for j in entries(knowledge, JOINTS) if wire.facts["conductor"] in j.facts["joins"]]
        hottest = max(joint.facts["max_c"] for joint in joints)
        assert wire.facts["sealed"] or hottest >= wire.facts["max_c"] - 20, wire.id


def test_every_solder_and_wire_that_go_together_have_a_flux(knowledge: Knowledge) -> None:
    for joint in entries(knowledge, JOINTS):
        for conductor in joint.facts["joins"] if joint.facts["needs_flux"] else ():
            fit = [
                flux.id
                for flux in entries(knowledge, FLUXES)
                if conductor in flux.facts["acts_on"] and flux.facts["active_to_c"] >= joint.facts["joint_at_c"]
            ]
            assert fit, f"{joint.id} on {conductor}"


def test_what_takes_a_flux_off_exists(knowledge: Knowledge) -> None:
    known = {*FAMILIES["degreaser"], "water"}
    for flux in entries(knowledge, FLUXES):
        assert set(flux.facts["removed_with"]) <= known, flux.id
        assert (flux.facts["residue"] == "corrosive") == (flux.facts["removed_with"] == ("water",)), flux.id


def test_every_wire_is_rated_for_every_exposure_and_the_lists_follow_from_that(knowledge: Knowledge) -> None:
    for wire in entries(knowledge, WIRES):
        grades = {exposure: wire.facts[f"resists.{exposure}"] for exposure in EXPOSURES}
        assert set(wire.facts["ruined_by"]) == {e for e, grade in grades.items() if grade == "poor"}
        assert set(wire.facts["worn_by"]) == {e for e, grade in grades.items() if grade == "fair"}
        assert grades["dry-air"] == "good"
        assert not (wire.facts["organic"] and grades["oxygen-enriched"] == "good"), wire.id


def test_a_cable_that_is_made_up_belongs_to_a_sealed_gauge(knowledge: Knowledge) -> None:
    sealed = [backing for backing in knowledge.by_kind["backing"] if backing.facts["hermetic"]]
    assert sealed
    assert all(backing.facts["attached_by"] == "weld" and not backing.facts["bonds_with"] for backing in sealed)
    assert any(wire.facts["sealed"] for wire in entries(knowledge, WIRES))
