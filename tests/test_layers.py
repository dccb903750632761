"""Data goes one way: nothing earlier in the line imports anything later. Read from the imports themselves."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent / "kb"
#: Each layer may import itself and the ones above it. `*` stands for everything in a package.
LAYERS = (
    ("errors", "vocabulary", "units", "places", "lexicon"),
    ("calc",),
    ("clauses", "catalog", "rules", "derive"),
    ("loading", "findings", "index", "unknowns"),
    ("compiled", "rulebook", "words"),
    ("stepbook", "usagebook", "questionbook"),
    ("job",),
    ("lookup",),
    ("build",),
    ("knowledge", "demo"),
    ("proof", "identify", "relatives"),
    ("classes",),
    ("resolve",),
    ("engine",),
    ("asked",),
    ("census", "coverage", "gaps"),
    ("describe",),
    ("lint",),
    ("procedure",),
    ("quantities",),
    ("stock",),
    ("report",),
    ("web",),
    ("cli",),
    ("__main__",),
)
#: Imports that go up, each with its reason. One that is no longer there is an error itself.
EXCEPTIONS = {
    ("compiled", "build"): "a stale cache is built anew, and only then are the models imported",
    ("compiled", "engine"): "what no job changes of a rule is worked out once, when the knowledge is compiled",
}
#: Any layer may ask what version it is.
EVERYWHERE = {"__init__"}


def modules() -> list[Path]:
    return sorted(p for p in ROOT.rglob("*.py"))


def layer_of(name: str) -> int:
    return next(i for i, names in enumerate(LAYERS) if name in names)


def imported(path: Path) -> Iterator[str]:
    """The first name below `kb` of everything that a module imports, wherever in it."""
    package = path.relative_to(ROOT.parent).with_suffix("").parts
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(package[: len(package) - node.level]) if node.level else ""
            module = ".".join(p for p in (base, node.module or "") if p)
            names = [f"{module}.{alias.name}" for alias in node.names] if module == "kb" else [module]
        else:
            continue
        yield from (name.split(".")[1] for name in names if name.startswith("kb."))


@pytest.mark.parametrize("path", modules(), ids=[str(p.relative_to(ROOT)) for p in modules()])
def test_imports_go_one_way(path: Path) -> None:
    own = path.relative_to(ROOT).with_suffix("").parts[0]
    if own in EVERYWHERE:
        return
    for name in imported(path):
        if (own, name) in EXCEPTIONS or name == "__version__":
            continue
        assert layer_of(name) <= layer_of(own), f"{own} imports {name}, which comes later"


def test_no_exception_is_stale() -> None:
    there = {(p.relative_to(ROOT).with_suffix("").parts[0], name) for p in modules() for name in imported(p)}
    assert set(EXCEPTIONS) <= there
    for (low, high), reason in EXCEPTIONS.items():
        assert layer_of(low) < layer_of(high), reason


def test_a_module_keeps_to_one_reason() -> None:
    """60 to 300 lines as a rule; a registry or a package's doorstep may be shorter, nothing is much longer."""
    long = {str(p.relative_to(ROOT)): n for p in modules() if (n := len(p.read_text().splitlines())) > 330}
    assert not long
