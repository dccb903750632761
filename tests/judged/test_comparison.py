"""A comparison's form: broken ones are answered by one line that names the file, the field and the mend."""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.base.errors import BadInput
from kb.judged import Side, load_comparisons

GOOD = """
id    = "oven-or-not"
why   = "Nobody heats a part for a day."
basis = "common-practice"
added = 2026-11-28
[job.part]
substrate = "carbon-steel"
[job.service]
temperature_c = [15, 35]
duration_days = 1
[better]
adhesive = "cyanoacrylate"
[worse]
adhesive = ["epoxy-heat-cure", "epoxy-phenolic"]
"""


def loaded(folder: Path, text: str, name: str = "oven-or-not") -> list[str]:
    (folder / f"{name}.toml").write_text(text)
    return [comparison.id for comparison, _ in load_comparisons(folder)]


def test_one_name_is_a_list_of_one(tmp_path: Path) -> None:
    (tmp_path / "oven-or-not.toml").write_text(GOOD)
    ((comparison, where),) = load_comparisons(tmp_path)
    assert comparison.better.adhesive == ("cyanoacrylate",)
    assert comparison.worse.named("adhesive") == ("epoxy-heat-cure", "epoxy-phenolic")
    assert comparison.worse.named("solder") == comparison.worse.named("coating_1") == ()
    assert where.endswith("oven-or-not.toml")


def test_no_folder_holds_no_comparisons(tmp_path: Path) -> None:
    assert list(load_comparisons(tmp_path / "absent")) == []


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('id    = "oven-or-not"', 'id = "other"', "is not the file's name"),
        ('adhesive = "cyanoacrylate"', "", "names nothing"),
        ('adhesive = "cyanoacrylate"', 'glue = "cyanoacrylate"', "glue"),
        ('adhesive = "cyanoacrylate"', 'coatings = ["a", "b", "c", "d"]', "more than a chain has"),
        ('why   = "Nobody heats a part for a day."', "", "why"),
    ],
)
def test_a_broken_comparison_is_one_line(tmp_path: Path, old: str, new: str, said: str) -> None:
    assert old in GOOD
    with pytest.raises(BadInput, match=said) as fault:
        loaded(tmp_path, GOOD.replace(old, new))
    assert "\n" not in str(fault.value)


def test_an_empty_list_of_coats_says_something() -> None:
    assert Side(coatings=()).coatings == ()
