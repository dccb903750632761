"""Grit scales: the table's own order, and its agreement with the catalog's abrasives."""

import math
import tomllib
from itertools import pairwise
from pathlib import Path

import pytest

from kb.base.vocabulary import BASES, CITED_BASES
from kb.calc.abrasive import SCALES, _scales, grit_size

CATALOG = Path(__file__).parents[2] / "generic_catalog"
TABLE = tomllib.loads((CATALOG / "grit_scales.toml").read_text(encoding="utf-8"))["scales"]
EVERY = [(scale, number) for scale in SCALES for number in _scales()[scale].mean_um]


def test_the_table_has_the_four_scales_each_with_basis_and_source() -> None:
    assert tuple(scale["id"] for scale in TABLE) == SCALES
    for table in (table for scale in TABLE for table in scale["tables"]):
        assert table["basis"] in BASES
        assert ("source" in table) == (table["basis"] in CITED_BASES)


@pytest.mark.parametrize("scale", TABLE, ids=lambda scale: scale["id"])
def test_no_grade_stands_twice_and_a_higher_number_is_finer(
    scale: dict[str, list[dict[str, dict[str, float]]]],
) -> None:
    listed = [(int(number), um) for table in scale["tables"] for number, um in table["mean_um"].items()]
    assert len({number for number, _ in listed}) == len(listed)
    sizes = [um for _, um in sorted(listed)]
    assert all(coarser > finer for coarser, finer in pairwise(sizes))


@pytest.mark.parametrize(("scale", "number"), EVERY)
def test_equivalents_are_near_and_named_with_their_mark(scale: str, number: str) -> None:
    found = grit_size(scale, number)
    assert set(found["equivalents"]) == set(SCALES) - {scale}
    for other, grade in found["equivalents"].items():
        sizes = _scales()[other].mean_um.values()
        best = min(abs(math.log(um / found["mean_um"])) for um in sizes)
        if grade is None:
            assert best > math.log(1.25)
            continue
        near = grit_size(other, grade)["mean_um"]
        # The nearest, or in a tie the finer one.
        assert abs(math.log(near / found["mean_um"])) == pytest.approx(best, abs=0.02)
        if other in found["also_near"]:
            assert near < found["mean_um"] < grit_size(other, found["also_near"][other])["mean_um"]


@pytest.mark.parametrize("written", ["P400", "p400", " 400 ", "P 400"])
def test_a_grade_may_be_written_with_its_mark(written: str) -> None:
    assert grit_size("fepa-p", written)["mean_um"] == 35.0


@pytest.mark.parametrize(("scale", "written"), [("cami", "P400"), ("fepa-p", "F400"), ("fepa-f", "#400")])
def test_another_scales_mark_is_refused(scale: str, written: str) -> None:
    with pytest.raises(ValueError, match="is written for"):
        grit_size(scale, written)


def test_a_coarse_grain_has_no_equivalent_on_a_scale_of_microgrits() -> None:
    assert grit_size("cami", "24")["equivalents"]["jis"] is None


def test_abrasives_of_the_catalog_have_the_mean_grain_of_their_grade() -> None:
    checked = 0
    for path in sorted((CATALOG / "abrasive").glob("*.toml")):
        item = tomllib.loads(path.read_text(encoding="utf-8"))
        if item["scale"] in SCALES and "mean_um" in item:
            assert grit_size(item["scale"], item["grade"])["mean_um"] == item["mean_um"], path.name
            checked += 1
    assert checked >= 10
