"""Spares (topic 10): a numerical library's published output, textbook exercises, and scipy as a further oracle."""

from typing import Any

import pytest
from scipy import stats

from kb.calc import run
from tests.outside.published import Entry, cases, entry


def spares(good: int, share: float, confidence: float) -> dict[str, Any]:
    given = {"good_needed": good, "expected_yield": share, "confidence": confidence}
    result: dict[str, Any] = run("spares", given)["result"]
    return result


def asked(known: Entry) -> tuple[int, float, float]:
    """Good ones needed, yield and confidence, under the names that the entry's source gives them."""
    given = known.inputs
    good = given["need_good"] if "need_good" in given else given["need"]
    confidence = given["confidence"] if "confidence" in given else round(given["confidence_pct"] / 100, 6)
    return good, given["p_good"], confidence


#: Entries that ask how many to make; the others give a probability.
COUNTS = ("boost", "nb-pumps-9", "nb-turbines", "spares")


@pytest.mark.parametrize("known", cases(10, *COUNTS))
def test_attempts(known: Entry) -> None:
    good, share, confidence = asked(known)
    found = spares(good, share, confidence)
    assert found["attempts"] == known.expected, known.against(found)


@pytest.mark.parametrize("known", cases(10, *COUNTS))
def test_scipy_agrees_on_the_probability(known: Entry) -> None:
    good, share, confidence = asked(known)
    found = spares(good, share, confidence)
    oracle = stats.binom.sf(good - 1, found["attempts"], share)
    assert found["probability"] == pytest.approx(oracle, abs=1e-9), known.against(found)


def test_exactly_the_confidence_is_enough() -> None:
    known = entry("boost-50-0.5-50")
    found = spares(51, 0.5, 0.5)
    assert found["attempts"] == known.expected, known.against(found)  # 102 by careless floats
    assert found["probability"] == pytest.approx(0.5, abs=1e-12), known.against(found)


def test_probability_without_spares() -> None:
    known = entry("nb-pumps-5")
    # A confidence that five of five just reach gives back that probability.
    found = spares(known.inputs["need"], known.inputs["p_good"], 0.77)
    assert found["attempts"] == known.inputs["ordered"], known.against(found)
    known.assert_near(found["probability"])


def test_at_least_ten_good_of_twelve_is_a_cumulative_probability() -> None:
    known, trap = entry("nb-sensors-atleast"), entry("nb-sensors-exact12")
    twelve = spares(10, 0.6, 0.0834)
    eleven = spares(10, 0.6, 0.03)
    assert (twelve["attempts"], eleven["attempts"]) == (12, 11), known.against((twelve, eleven))
    known.assert_near(twelve["probability"])
    trap.assert_near(twelve["probability"] - eleven["probability"])


@pytest.mark.parametrize(
    ("confidence", "reliability", "samples"),
    [(0.95, 0.95, 59), (0.90, 0.95, 45), (0.95, 0.90, 29), (0.90, 0.90, 22), (0.95, 0.99, 299)],
)
def test_success_run(confidence: float, reliability: float, samples: int) -> None:
    """The samples that show a reliability are the attempts that would find one failure."""
    known = entry("success-run")
    found = spares(1, round(1 - reliability, 6), confidence)
    assert found["attempts"] == samples, known.against(found)
