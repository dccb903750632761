"""Limits of grades: more of anything is never within where less was beyond, and the words name what is met only."""

from hypothesis import given
from hypothesis import strategies as st

from kb.calc.limits import beyond_limits, limits_in

words = st.sampled_from(["alkali", "steam", "sea-water-immersion"])
figures = st.sampled_from(["high_c", "three_days_c", "days", "concentration_pct", "dose_kgy"])
rows = st.lists(st.tuples(words, figures, st.floats(0, 1000)), unique_by=lambda row: row[:2])


@given(rows, rows, st.floats(0, 100))
def test_more_of_what_surrounds_is_never_within_where_less_was_beyond(
    limits: list[tuple[str, str, float]], met: list[tuple[str, str, float]], more: float
) -> None:
    if beyond_limits(limits, met)["beyond"]:
        assert beyond_limits(limits, [(word, name, value + more) for word, name, value in met])["beyond"]


@given(rows)
def test_a_limit_itself_is_within(limits: list[tuple[str, str, float]]) -> None:
    assert not beyond_limits(limits, limits)["beyond"]


@given(rows, words)
def test_only_the_limits_of_what_is_met_are_said(limits: list[tuple[str, str, float]], word: str) -> None:
    said = limits_in(limits, [word])["said"]
    here = [row for row in limits if row[0] == word]
    assert said.count(word.replace("-", " ")) == len(here)
    assert (said == "") == (not here)


def test_a_limit_for_three_days_ends_with_them_and_at_its_own_heat() -> None:
    limits = [("steam", "high_c", 80.0), ("steam", "three_days_c", 100.0)]
    at = {
        (c, d): beyond_limits(limits, [("steam", "high_c", c), ("steam", "days", d)])
        for c in (80.0, 100.0, 101.0)
        for d in (3.0, 4.0)
    }
    assert [at[80.0, 4.0]["beyond"], at[100.0, 3.0]["beyond"], at[100.0, 4.0]["beyond"], at[101.0, 3.0]["beyond"]] == [
        False,
        False,
        True,
        True,
    ]
    assert [key for key, found in at.items() if found["for_days_only"]] == [(100.0, 3.0)]
