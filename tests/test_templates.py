"""The templates of DEVELOPERS.md, put where the page says into a copy of the checkout, pass the lint and the tests."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.mirror import ROOT
from tests.mutate.trial import copies
from tests.test_docs import written

#: Each template that is a file of its own, and where it goes.
FILES = {
    "rule": "rules/degrease/no-terpene-on-rubber.toml",
    "item degreaser": "generic_catalog/degreaser/methyl-acetate-wipe.toml",
    "calculation": "kb/calc/film.py",
    "calculation test": "tests/calc/test_film.py",
    "page": "kb/web/pages/surroundings.py",
    "page template": "kb/web/templates/surroundings.html",
    "page test": "tests/web/pages/test_surroundings.py",
}
#: Tests that look at what a template adds, of its kind or as a whole.
TESTS = (
    "kb/calc/film.py",
    "tests/calc/test_film.py",
    "tests/calc/test_calc.py",
    "tests/web/pages/test_surroundings.py",
    "tests/web/test_pages.py::test_every_page_stands_in_the_list_of_addresses",
    "tests/web/test_pages.py::test_every_page_is_laid_out_for_everyone[surroundings]",
    "tests/reference/test_pages.py",
    "tests/planning/test_procedure.py",
    "tests/planning/test_coverage.py::test_the_knowledge_is_as_broad_as_promised",
    "tests/test_layers.py",
    "tests/test_mirror.py",
    "tests/test_named.py",
    "tests/test_rule_proofs.py",
)


@pytest.fixture
def checkout() -> Iterator[Path]:
    """A copy of the checkout with every template in it, unchanged, as the page says."""
    with copies(ROOT, 1) as (place,):
        for mark, path in FILES.items():
            (place / path).parent.mkdir(exist_ok=True)
            (place / path).write_text(written("DEVELOPERS.md", mark), encoding="utf-8")
        (place / "tests/web/pages/__init__.py").touch()
        steps = place / "generic_catalog/steps/9-verify.toml"
        steps.write_text(f"{steps.read_text()}\n{written('DEVELOPERS.md', 'steps')}", encoding="utf-8")
        row = written("DEVELOPERS.md", "calculation row")
        put(place / "kb/calc/__init__.py", '    "expiry": (', f'{row}    "expiry": (')
        put(place / "kb/web/pages/__init__.py", "    why,\n", "    surroundings,\n    why,\n")
        put(place / "kb/web/pages/__init__.py", "for module in (", "for module in (surroundings, ")
        put(
            place / "tests/web/addresses.py", '    "problems":', '    "surroundings": "/surroundings",\n    "problems":'
        )
        yield place


def put(path: Path, old: str, new: str) -> None:
    """Put `new` in place of what stands in a file once."""
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1, f"{path.name}: {old!r}"
    path.write_text(text.replace(old, new), encoding="utf-8")


def passes(place: Path, *command: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", *command],
        cwd=place,
        env={**os.environ, "PYTHONPATH": str(place)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout[-3000:]}{done.stderr[-1000:]}"


def test_the_templates_pass_unchanged(checkout: Path) -> None:
    passes(checkout, "kb", "lint")
    # The third page, the map of what is covered, takes longer than all else here; no test reads the whole of it.
    passes(checkout, "kb.reference", "reference.md", "basis.md")
    passes(checkout, "ruff", "check", *(path for path in FILES.values() if path.endswith(".py")))
    passes(checkout, "pytest", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", *TESTS)
