"""Say which tests serve a module of kb: the test of its name in the mirrored folder, and those that the table names.

    python -m tests.mirror [MODULE ...]

`kb/calc/dates.py` is served by `tests/calc/test_dates.py`, `kb/calc/__init__.py` by `tests/calc/test_calc.py`. Where a
test serves other modules than the one of its name, the table says so.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

ROOT = Path(__file__).parent.parent
#: The tests that serve modules of another name.
SERVES: Mapping[str, tuple[str, ...]] = {
    "tests/test_cli.py": (
        "kb/__main__.py", "kb/cli/__init__.py", "kb/cli/app.py", "kb/cli/common.py", "kb/cli/program.py",
    ),
    "tests/test_job.py": ("kb/base/errors.py", "kb/base/files.py", "kb/base/units.py"),
    "tests/test_rule_proofs.py": ("kb/lint/proof.py",),
    "tests/test_texts.py": (
        "kb/report/trouble.py", "kb/report/why.py", "kb/rules/roles.py", "kb/rules/rule.py", "kb/rules/words.py",
    ),
    "tests/calc/test_calc.py": ("kb/calc/outgassing.py", "kb/calc/spec.py"),
    "tests/cli/test_stock.py": (
        "kb/cli/common.py", "kb/cli/stock_common.py", "kb/cli/stock_events.py", "kb/cli/stock_files.py",
        "kb/cli/stock_shelf.py", "kb/stock/items.py", "kb/stock/practice.py", "kb/stock/view.py", "kb/work/desk.py",
        "kb/work/planned.py",
    ),
    "tests/cli/test_work.py": (
        "kb/cli/program.py", "kb/planning/shelf.py", "kb/report/pages.py", "kb/report/pick.py", "kb/report/trace.py",
        "kb/work/recording.py",
    ),
    "tests/engine/search/test_k_best.py": (
        "kb/engine/search/bounds.py", "kb/engine/search/layers.py", "kb/engine/search/masks.py", "kb/engine/search/problem.py",
    ),
    "tests/engine/test_among.py": ("kb/engine/domain.py",),
    "tests/engine/test_check.py": ("kb/engine/remedies.py", "kb/report/check.py"),
    "tests/engine/test_conflict.py": ("kb/engine/breakpoints.py", "kb/engine/goal.py", "kb/engine/requirements.py"),
    "tests/engine/test_cost.py": ("kb/engine/chain.py",),
    "tests/engine/test_proof.py": (
        "kb/engine/plan.py", "kb/engine/rank.py", "kb/engine/refusals.py", "kb/engine/slots.py",
        "kb/engine/wide/beam.py", "kb/engine/wide/lower_bounds.py", "kb/engine/wide/merging.py", "kb/report/plan_text.py", "kb/rules/findings.py",
    ),
    "tests/engine/test_screen.py": (
        "kb/engine/domain.py", "kb/engine/grounding.py", "kb/engine/readers.py", "kb/knowledge/index.py",
    ),
    "tests/engine/test_why.py": ("kb/engine/goal.py", "kb/report/why.py"),
    "tests/knowledge/test_build.py": (
        "kb/base/files.py", "kb/base/models.py", "kb/knowledge/__init__.py", "kb/knowledge/catalog/__init__.py",
        "kb/knowledge/catalog/base.py", "kb/knowledge/catalog/bond.py", "kb/knowledge/catalog/files.py",
        "kb/knowledge/catalog/supply.py", "kb/knowledge/catalog/surface.py", "kb/knowledge/derive.py",
        "kb/rules/form.py",
    ),
    "tests/knowledge/test_cache.py": ("kb/base/places.py", "kb/knowledge/packing.py"),
    "tests/lint/test_lint.py": ("kb/lint/items.py", "kb/lint/probe.py", "kb/lint/rules.py", "kb/lint/tree.py"),
    "tests/materials/identify/test_identify.py": (
        "kb/base/lexicon.py", "kb/knowledge/lookup.py", "kb/materials/identify/likeness.py",
        "kb/materials/identify/match.py",
    ),
    "tests/materials/test_resolve.py": ("kb/materials/classes.py",),
    "tests/planning/test_compare.py": ("kb/report/compare.py", "kb/report/trouble.py"),
    "tests/planning/test_coverage.py": ("kb/base/vocabulary.py", "kb/reference/__main__.py", "kb/reference/census.py"),
    "tests/planning/test_describe.py": (
        "kb/cli/describe.py", "kb/knowledge/questions.py", "kb/materials/relatives.py", "kb/planning/gaps.py",
        "kb/report/described.py", "kb/report/interview.py", "kb/report/text.py",
    ),
    "tests/planning/test_procedure.py": ("kb/knowledge/steps.py", "kb/planning/demo.py"),
    "tests/quantities/test_air.py": ("kb/quantities/cautions.py",),
    "tests/quantities/test_bench.py": ("kb/quantities/moves.py", "kb/report/bench.py"),
    "tests/quantities/test_estimate.py": (
        "kb/knowledge/usage.py", "kb/quantities/__init__.py", "kb/quantities/usage.py", "kb/report/estimate.py",
    ),
    "tests/quantities/test_timeline.py": (
        "kb/quantities/exact.py", "kb/quantities/route.py", "kb/quantities/schedule.py", "kb/report/timeline.py",
    ),
    "tests/report/test_guides.py": (
        "kb/cli/app.py", "kb/cli/ask.py", "kb/cli/paper.py", "kb/reference/commands.py", "kb/report/items.py",
    ),
    "tests/report/test_pictures.py": (
        "kb/report/coverage.py", "kb/report/pictures/drawing.py", "kb/report/pictures/grids.py",
        "kb/report/pictures/layers.py", "kb/report/pictures/temperatures.py", "kb/report/pictures/timeline.py",
    ),
    "tests/report/test_sheet.py": ("kb/report/approval.py", "kb/report/form.py", "kb/report/hazards.py"),
    "tests/stock/test_crashes.py": ("kb/stock/log/files.py", "kb/stock/log/segments.py"),
    "tests/stock/test_damage.py": (
        "kb/stock/log/head.py", "kb/stock/log/inspection.py", "kb/stock/log/records.py", "kb/stock/log/repair.py",
        "kb/stock/log/segments.py", "kb/stock/log/tinystore.py",
    ),
    "tests/stock/test_interchange.py": ("kb/stock/tables.py",),
    "tests/stock/test_ledger.py": (
        "kb/stock/admission.py", "kb/stock/amounts.py", "kb/stock/events.py", "kb/stock/when.py",
    ),
    "tests/stock/test_picture.py": ("kb/stock/labels.py",),
    "tests/stock/test_scan.py": ("kb/stock/products.py",),
    "tests/stock/test_store.py": ("kb/stock/admission.py", "kb/stock/log/memory.py", "kb/stock/log/store.py"),
    "tests/stock/test_temperatures.py": ("kb/stock/warmup.py", "kb/stock/when.py"),
    "tests/web/test_api.py": (
        "kb/cli/ask.py", "kb/report/calculations.py", "kb/report/plan_json.py", "kb/report/rules.py",
        "kb/web/api/answers.py", "kb/web/api/bodies.py", "kb/web/api/catalog.py", "kb/web/api/common.py",
        "kb/web/api/documents.py", "kb/web/api/events.py", "kb/web/api/once.py", "kb/web/api/records.py",
        "kb/web/api/shelf.py", "kb/web/api/work.py", "kb/web/problems.py", "kb/web/session.py", "kb/web/turns.py",
    ),
    "tests/web/test_api_schema.py": ("kb/web/api/__init__.py",),
    "tests/web/test_guard.py": (
        "kb/web/api/describing.py", "kb/web/api/door.py", "kb/web/app.py", "kb/web/pages/door.py",
        "kb/web/problems.py", "kb/web/settings.py",
    ),
    "tests/web/test_pages.py": (
        "kb/planning/ask.py", "kb/report/jobfile.py", "kb/web/desk.py", "kb/web/fields.py", "kb/web/forms.py",
        "kb/web/pages/__init__.py", "kb/web/pages/answer.py", "kb/web/pages/catalog.py", "kb/web/pages/choose.py",
        "kb/web/pages/common.py", "kb/web/pages/coverage.py", "kb/web/pages/day.py", "kb/web/pages/pair.py",
        "kb/web/pages/paper.py", "kb/web/pages/why.py", "kb/web/reckoning.py", "kb/web/render.py",
    ),
    "tests/web/test_serve.py": ("kb/cli/web.py",),
    "tests/web/test_shelf.py": (
        "kb/report/trace.py", "kb/stock/shelf.py", "kb/web/desk.py", "kb/web/pages/shelf.py",
        "kb/web/pages/shelf_forms.py", "kb/web/pages/shelf_lot.py", "kb/web/pages/shelf_receive.py",
        "kb/web/pages/shelf_work.py",
    ),
    "tests/work/test_picking.py": ("kb/work/installations.py", "kb/work/tracing.py", "kb/work/yields.py"),
}  # fmt: skip


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


def serving(module: str, root: Path = ROOT, serves: Mapping[str, tuple[str, ...]] = SERVES) -> tuple[str, ...]:
    """The tests that serve a module, its own first."""
    own = own_test(module)
    also = (test for test, served in serves.items() if module in served)
    return (*((own,) if (root / own).exists() else ()), *also)


def faults(root: Path = ROOT, serves: Mapping[str, tuple[str, ...]] = SERVES) -> Iterator[str]:
    """What is wrong between the two trees: modules that no test serves, and rows of the table that name nothing."""
    there = modules(root)
    for module in there:
        if not serving(module, root, serves):
            yield f"{module}: no {own_test(module)}; write it, or name in tests/mirror.py the test that serves it"
    for test, served in serves.items():
        if not (root / test).exists():
            yield f"tests/mirror.py: {test} is not there; mend its row"
        for module in (module for module in served if module not in there):
            yield f"tests/mirror.py: {module} is not there, or holds nothing to test; take it out"


def path_of(name: str) -> str:
    """The path of a module that is given as a path or by its dotted name."""
    if name.endswith(".py"):
        return name
    path = name.replace(".", "/")
    return f"{path}/__init__.py" if (ROOT / path).is_dir() else f"{path}.py"


if __name__ == "__main__":
    for given in sys.argv[1:] or modules():
        print(f"{given}: {', '.join(serving(path_of(given))) or 'no test'}")
