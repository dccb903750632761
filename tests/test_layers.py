"""Imports go down and never round: read from every module, imports inside functions counted."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent / "kb"
#: From the ground up. A module may import its own floor and those below; where packages share a floor, each other too.
FLOORS = (
    ("kb",),
    ("kb.base",),
    ("kb.calc",),
    ("kb.job",),
    ("kb.rules",),
    ("kb.knowledge",),
    ("kb.materials",),
    ("kb.engine",),
    ("kb.planning",),
    ("kb.judged",),
    ("kb.lint",),
    ("kb.quantities",),
    ("kb.stock",),
    ("kb.work",),
    ("kb.report",),
    ("kb.web",),
    ("kb.cli",),
    ("kb.calibrate",),
    ("kb.reference",),
    ("kb.__main__",),
)


def modules(root: Path = ROOT) -> dict[str, Path]:
    """Every module below `root` by its dotted name; a package stands for its `__init__`."""
    found = {}
    for path in sorted(root.rglob("*.py")):
        parts = path.relative_to(root.parent).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def imports(name: str, path: Path, known: Mapping[str, Path]) -> Iterator[str]:
    """The modules of ours that a module imports, wherever in it: at its head, in a function, or for types alone."""
    package = name if path.name == "__init__.py" else name.rpartition(".")[0]
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            named = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
            module = ".".join([*base, *([node.module] if node.module else [])])
            named = [full if (full := f"{module}.{alias.name}") in known else module for alias in node.names]
        else:
            continue
        yield from (module for module in named if module in known and module != name)


def arrows(known: Mapping[str, Path]) -> dict[str, list[str]]:
    """What each module imports, without the imports of a package's face by what stands inside the package."""
    return {name: sorted(set(imports(name, path, known))) for name, path in known.items()}


def floor_of(name: str) -> int:
    """The floor of the longest name that `name` begins with."""
    owners = {owner: number for number, owners in enumerate(FLOORS) for owner in owners}
    return owners[max((o for o in owners if name == o or (name.startswith(f"{o}.") and o != "kb")), key=len)]


def upward(graph: Mapping[str, list[str]]) -> list[str]:
    """Each arrow that runs up, named by both its ends."""
    return [
        f"{name} imports {other}, which stands above it"
        for name, others in graph.items()
        for other in others
        if floor_of(other) > floor_of(name)
    ]


def circle(graph: Mapping[str, list[str]]) -> list[str]:
    """The modules of one circle, in the order in which they import each other; empty where there is none."""
    done: set[str] = set()

    def walk(name: str, trail: list[str]) -> list[str]:
        if name in trail:
            return [*trail[trail.index(name) :], name]
        if name not in done:
            for other in graph[name]:
                if found := walk(other, [*trail, name]):
                    return found
            done.add(name)
        return []

    return next((found for name in graph if (found := walk(name, []))), [])


def test_imports_go_down() -> None:
    assert upward(arrows(modules())) == []


def test_no_modules_import_each_other_in_a_circle() -> None:
    assert circle(arrows(modules())) == []


def test_an_arrow_that_runs_up_is_named(tmp_path: Path) -> None:
    for name, text in {"base/low.py": "def f():\n    from kb.engine import high\n", "engine/high.py": ""}.items():
        path = tmp_path / "kb" / name
        path.parent.mkdir(parents=True)
        path.write_text(text)
    assert upward(arrows(modules(tmp_path / "kb"))) == ["kb.base.low imports kb.engine.high, which stands above it"]


@pytest.mark.parametrize("head", ["from kb.calc import b", "def f():\n    import kb.calc.b", "from . import b"])
def test_a_circle_is_named(tmp_path: Path, head: str) -> None:
    for name, text in {"a.py": head, "b.py": "from kb.calc import c", "c.py": "from kb.calc.a import x"}.items():
        path = tmp_path / "kb" / "calc" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    found = circle(arrows(modules(tmp_path / "kb")))
    assert found == ["kb.calc.a", "kb.calc.b", "kb.calc.c", "kb.calc.a"]


def test_every_package_has_its_floor() -> None:
    assert {floor_of(name) for name in modules()} == set(range(len(FLOORS)))


def test_a_module_keeps_to_one_reason() -> None:
    """60 to 300 lines as a rule; a registry or a package's doorstep may be shorter, nothing is much longer."""
    long = {name: n for name, path in modules().items() if (n := len(path.read_text().splitlines())) > 330}
    assert not long


#: Who may plan a job: all others ask.
PLANNERS = ("kb.engine", "kb.planning.ask", "kb.planning.alternatives")


def planners(known: Mapping[str, Path]) -> set[str]:
    """Every module that has an engine plan a job itself, or that makes an answer without asking for it."""
    found = set()
    for name, path in known.items():
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and (
                (isinstance(node.func, ast.Attribute) and node.func.attr == "plan")
                or (isinstance(node.func, ast.Name) and node.func.id in ("Plan", "Asked"))
            ):
                found.add(name)
    return found


def test_all_answers_take_one_way_from_a_job() -> None:
    """What is asked in two ways is answered in two ways sooner or later."""
    assert {name for name in planners(modules()) if not name.startswith(PLANNERS)} == set()


def readers(known: Mapping[str, Path], pattern: str) -> set[str]:
    """Every module with an expression that ends like `pattern`, a dotted name without its beginning."""
    return {
        name
        for name, path in known.items()
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Attribute) and f".{ast.unparse(node)}".endswith(f".{pattern}")
    }


def test_only_the_doors_read_the_clock() -> None:
    """The day is an argument everywhere else; how long something takes, and how old a part file is, isn't the day."""
    asked = {name for pattern in ("date.today", "datetime.now", "time.time") for name in readers(modules(), pattern)}
    assert asked - {"kb.base.disk"} == {"kb.cli.common", "kb.web.settings"}


def test_one_module_fills_in_messages() -> None:
    assert readers(modules(), "finding.rule.message") == {"kb.rules.words"}


def test_operators_stand_in_one_table() -> None:
    """Masks of options ask the same operators as single clauses do."""
    asking = {
        name
        for name, path in modules().items()
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Subscript) and ast.unparse(node.value).endswith("OPERATORS")
    }
    assert asking == {"kb.rules.clauses", "kb.engine.domain"}
