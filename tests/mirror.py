"""Say which tests serve a module of kb: the test of its name in the mirrored folder, and those that a table names.

    python -m tests.mirror [MODULE ...]

`kb/calc/dates.py` is served by `tests/calc/test_dates.py`, `kb/calc/__init__.py` by `tests/calc/test_calc.py`. Where a
test serves other modules than the one of its name, tests/mirror.toml says so.
"""

from __future__ import annotations

import ast
import sys
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).parent.parent
#: The tests that serve modules of another name.
SERVES: Mapping[str, list[str]] = tomllib.loads((ROOT / "tests" / "mirror.toml").read_text(encoding="utf-8"))


def modules(root: Path = ROOT) -> list[str]:
    """Every module of kb that holds anything to test, as a path from `root`."""
    return [str(path.relative_to(root)) for path in sorted((root / "kb").rglob("*.py")) if _holds_code(path)]


def _holds_code(path: Path) -> bool:
    """Whether there is more in a module than a docstring, imports, and names like `__all__`."""
    return not all(
        isinstance(node, ast.Import | ast.ImportFrom)
        or (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant))
        or (isinstance(node, ast.Assign) and ast.unparse(node.targets[0]).startswith("__"))
        for node in ast.parse(path.read_text(encoding="utf-8")).body
    )


def own_test(module: str) -> str:
    """The path of the test of a module's name; a package's stands inside its folder."""
    path = Path(module)
    name = path.parent.name if path.name == "__init__.py" else path.stem
    return str(Path("tests", *path.parts[1:-1], f"test_{name}.py"))


def serving(module: str, root: Path = ROOT, serves: Mapping[str, Sequence[str]] = SERVES) -> tuple[str, ...]:
    """The tests that serve a module, its own first."""
    own = own_test(module)
    also = (test for test, served in serves.items() if module in served)
    return (*((own,) if (root / own).exists() else ()), *also)


def faults(root: Path = ROOT, serves: Mapping[str, Sequence[str]] = SERVES) -> Iterator[str]:
    """What is wrong between the two trees: modules that no test serves, and rows of the table that name nothing."""
    there = modules(root)
    for module in there:
        if not serving(module, root, serves):
            yield f"{module}: no {own_test(module)}; write it, or name in tests/mirror.toml the test that serves it"
    for test, served in serves.items():
        if not (root / test).exists():
            yield f"tests/mirror.toml: {test} is not there; mend its row"
        for module in (module for module in served if module not in there):
            yield f"tests/mirror.toml: {module} is not there, or holds nothing to test; take it out"


def path_of(name: str) -> str:
    """The path of a module that is given as a path or by its dotted name."""
    if name.endswith(".py"):
        return name
    path = name.replace(".", "/")
    return f"{path}/__init__.py" if (ROOT / path).is_dir() else f"{path}.py"


if __name__ == "__main__":
    for given in sys.argv[1:] or modules():
        print(f"{given}: {', '.join(serving(path_of(given))) or 'no test'}")
