"""The generated pages of docs/ are as the program and the knowledge are now, and one command writes all of them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kb.knowledge import Knowledge
from kb.reference.pages import PAGES

DOCS = Path(__file__).parents[2] / "docs"
#: Said where a page is stale.
MEND = "run `python -m kb.reference` and commit what it writes"


@pytest.mark.parametrize("name", ["reference.md", "basis.md"])
def test_a_page_is_as_it_would_be_written_now(name: str, knowledge: Knowledge) -> None:
    """The map of what is covered takes a minute: of it tests/planning/test_coverage.py looks at a part."""
    assert (DOCS / name).read_text(encoding="utf-8") == PAGES[name](knowledge), f"docs/{name} is stale: {MEND}"


def test_the_one_command_writes_every_page_that_says_it_was_written() -> None:
    said = {page.name for page in DOCS.glob("*.md") if "Written by `python -m kb.reference`" in page.read_text()}
    assert said == set(PAGES)


def test_pictures_of_the_page_are_taken_by_one_other_command() -> None:
    """Each that a page of docs/ shows is one that the command takes, and each that it takes is shown."""
    from tests.web.screenshots import IN_DOCS

    shown = {
        name for page in DOCS.glob("*.md") for name in re.findall(r"\(screenshots/([\w-]+)\.png\)", page.read_text())
    }
    assert shown == set(IN_DOCS) == {picture.stem for picture in (DOCS / "screenshots").iterdir()}
