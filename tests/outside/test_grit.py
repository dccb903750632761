"""Grit sizes (topic 3): a published table, and four scales that share their numbers."""

import re
from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.calc import run
from tests.outside.published import Entry, cases, entry

SCALES = {"FEPA-P": "fepa-p", "CAMI": "cami", "JIS": "jis", "FEPA-F": "fepa-f"}


def scale_of(system: str) -> str:
    return next(scale for prefix, scale in SCALES.items() if system.startswith(prefix))


def grit(scale: str, grade: str) -> dict[str, Any]:
    result: dict[str, Any] = run("grit-size", {"scale": scale, "grade": grade})["result"]
    return result


@pytest.mark.parametrize("known", cases(3, "grit-P", "grit-CAMI", "grit-F400", "grit-JIS400"))
def test_mean_grain(known: Entry) -> None:
    found = grit(scale_of(known.inputs["system"]), known.inputs["grade"])
    known.assert_near(found["mean_um"])
    assert (found["basis"] == "dataset") == (known.kind == "published"), known.against(found)


@pytest.mark.parametrize("known", cases(3, "grit-eq-", but=["grit-eq-500-tie"]))
def test_nearest_grade(known: Entry) -> None:
    found = grit(scale_of(known.inputs["system"]), known.inputs["grade"])
    assert found["equivalents"]["fepa-p"] == known.expected, known.against(found)


def test_cami_500_lies_between_two_grades_and_both_are_named() -> None:
    known = entry("grit-eq-500-tie")
    found = grit("cami", "500")
    named = [found["also_near"]["fepa-p"], found["equivalents"]["fepa-p"]]
    assert named == known.expected, known.against(found)  # the finer one, P1000, is the answer; charts print it


def test_four_hundred_is_four_sizes() -> None:
    known = entry("grit-trap-400")
    sizes = [grit(scale, "400")["mean_um"] for scale in ("fepa-p", "jis", "cami", "fepa-f")]
    known.assert_near(sizes[2] / sizes[0])
    assert sizes == sorted(sizes, reverse=True), known.against(sizes)
    assert len(set(sizes)) == 4, known.against(sizes)
    with pytest.raises(BadInput, match="written for fepa-p, not for cami"):
        grit("cami", "P400")


@pytest.mark.parametrize(("grade", "alike"), [("180", True), ("220", True), ("240", False), ("320", False)])
def test_coarse_grades_agree_and_fine_ones_do_not(grade: str, alike: bool) -> None:
    # CAMI 180 and 220 are from memory; the finer ones are of the published table.
    ratio = grit("cami", grade)["mean_um"] / grit("fepa-p", grade)["mean_um"]
    assert (abs(ratio - 1) < 0.05) is alike, entry("grit-trap-400").against(ratio)


def test_macro_and_micro_grades_are_there() -> None:
    known = entry("grit-macro-micro")
    sizes = [grit("fepa-p", grade)["mean_um"] for grade in (*known.expected["macro"], *known.expected["micro"])]
    assert sizes == sorted(sizes, reverse=True), known.against(sizes)
    for outside in ("P11", "P2501"):
        with pytest.raises(BadInput, match=re.escape("fepa-p has no grade")):
            grit("fepa-p", outside)
