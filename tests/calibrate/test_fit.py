"""Points that keep what can be kept, under the laws, and the names of what contradicts each other."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from kb.calibrate.fit import MOST, ROUNDING, Pair, conflict, fit
from kb.knowledge.ranking import Level


def level(name: str, points: int, above: str | None = None) -> Level:
    return Level(id=name, what="w", points=points, above=above)


LEVELS = {
    each.id: each
    for each in (
        level("free", 0),
        level("remark", 5),
        level("care", 20, "remark"),
        level("hour", 1),
        level("doubt", 60),
    )
}


def test_nothing_asked_for_moves_nothing() -> None:
    assert fit(LEVELS, []).points == {name: each.points for name, each in LEVELS.items()}


def test_a_comparison_moves_the_points_that_it_is_about() -> None:
    found = fit(LEVELS, [Pair("a-year-is-worth-a-week", {"hour": 168.0}, {"doubt": 1.0})])
    assert found.lacking == {}
    assert found.points["doubt"] - 168 * found.points["hour"] >= ROUNDING
    assert found.points["care"] == 20


def test_two_that_contradict_each_other_are_named() -> None:
    pairs = [
        Pair("doubt-first", {"care": 1.0}, {"doubt": 1.0}),
        Pair("care-first", {"doubt": 1.0}, {"care": 1.0}),
        Pair("apart", {"remark": 1.0}, {"hour": 90.0}),
    ]
    (broken,) = fit(LEVELS, pairs).lacking
    other = {"doubt-first": "care-first", "care-first": "doubt-first"}[broken]
    assert conflict(LEVELS, pairs, broken) == [other]


def test_what_no_points_keep_is_named_alone() -> None:
    pairs = [Pair("more-of-all", {"care": 2.0, "hour": 1.0}, {"care": 1.0})]
    assert set(fit(LEVELS, pairs).lacking) == {"more-of-all"}
    assert conflict(LEVELS, pairs, "more-of-all") == ["more-of-all"]


def test_equals_come_within_a_remark() -> None:
    found = fit(LEVELS, [Pair("either", {"care": 3.0}, {"doubt": 1.0}, equal=True)])
    assert found.lacking == {}
    assert abs(3 * found.points["care"] - found.points["doubt"]) <= found.points["remark"]


@given(
    st.lists(st.tuples(st.sampled_from(list(LEVELS)), st.sampled_from(list(LEVELS)), st.integers(1, 30)), max_size=5)
)
def test_the_laws_hold_whatever_is_asked_for(asked: list[tuple[str, str, int]]) -> None:
    pairs = [Pair(f"c{n}", {one: float(many)}, {other: 1.0}) for n, (one, other, many) in enumerate(asked)]
    found = fit(LEVELS, pairs)
    assert found.points["free"] == 0
    assert all(1 <= points <= MOST for name, points in found.points.items() if name != "free")
    assert found.points["care"] > found.points["remark"]
    for pair in pairs:
        lead = sum(times * found.points[name] for name, times in pair.difference().items())
        assert pair.comparison in found.lacking or lead >= ROUNDING - 1e-6
