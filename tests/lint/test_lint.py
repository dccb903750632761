"""Each check of the lint has a bad example that it finds and a good one that it lets pass; what ships is clean."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from kb.knowledge import Entry
from kb.knowledge.cache import roots
from kb.lint import LINTERS, lint, plant, run
from kb.lint.tree import Tree
from kb.rules.form import RuleTable, rule_of

Change = Callable[[Tree], Tree]


@pytest.fixture(scope="module")
def tree() -> Tree:
    return plant(roots(None))


def rule(**over: Any) -> dict[str, Any]:
    """A small good rule, with `over` laid over it."""
    return {
        "id": "made-up",
        "title": "t",
        "verdict": "block",
        "about": ["degreaser"],
        "message": "m",
        "because": "b",
        "basis": "memory",
        "settle": "s",
        "added": "2026-11-25",
        "when": [{"fact": "degreaser.dry_min", "above": 9}, {"fact": "degreaser.family", "is": "ketone"}],
        "cases": [
            {"fires": True, "with": {"degreaser": {"dry_min": 10, "family": "ketone"}}},
            {"fires": False, "with": {"degreaser": {"dry_min": 9, "family": "ketone"}}},
            {"fires": False, "with": {"degreaser": {"dry_min": 10, "family": "ester"}}},
        ],
        **over,
    }


def with_rule(data: dict[str, Any]) -> Change:
    def change(tree: Tree) -> Tree:
        table = RuleTable.model_validate(data)
        return replace(tree, rules=(*tree.rules, (rule_of(table, "made-up"), table, "made-up")))

    return change


def with_item(item: str, **over: Any) -> Change:
    def change(tree: Tree) -> Tree:
        entry = tree.entries[item]
        facts = {**entry.facts, "id": "made-up", "aliases": (), "name": "made-up name", **over}
        made = Entry("made-up", entry.kind, entry.family, str(facts["name"]), facts)
        return replace(tree, entries={**tree.entries, "made-up": made})

    return change


def with_source(tree: Tree) -> Tree:
    return replace(tree, sources={**tree.sources, "made-up": {"id": "made-up"}})


def cases(*found: Any) -> list[dict[str, Any]]:
    return [{"fires": fires, "with": scene} for fires, scene in found]


WIDE = rule(when=[{"fact": "degreaser.water_based", "is": True}])
BAD: list[tuple[str, Change]] = [
    ("unproven", with_rule(rule(cases=rule()["cases"][:1]))),
    ("unproven", with_rule(rule(cases=[{"fires": False, "with": {"degreaser": {"dry_min": 10, "family": "ketone"}}}]))),
    ("unproven", with_rule(rule(cases=[{"fires": True, "with": {"degreaser": "no-such-item"}}]))),
    ("unlocated", with_rule(rule(basis="handbook", sources=[{"id": "nasa-std-6016b", "locator": "passim"}]))),
    ("unlocated", with_item("acetone", sources=({"id": "nasa-std-6016b", "locator": ""},))),
    ("unlocated", with_item("acetone", field_basis=({"fields": ("dry_min",), "basis": "dataset", "source": None},))),
    ("recalled-block", with_rule(rule(settle=""))),
    ("unknown-fact", with_rule(rule(when=[{"fact": "degreaser.drying_minutes", "above": 9}]))),
    ("unknown-fact", with_rule(rule(message="{degreaser.drying_minutes} min"))),
    ("unknown-word", with_rule(rule(when=[{"fact": "degreaser.family", "is": "ketonne"}]))),
    ("never-fires", with_rule(rule(when=[{"fact": "degreaser.dry_min", "above": 1e9}]))),
    (
        "covered",
        lambda tree: with_rule(rule(id="made-up-2", when=[*WIDE["when"], *rule()["when"]]))(with_rule(WIDE)(tree)),
    ),
    ("contradiction", lambda tree: with_rule(rule(id="made-up-2", verdict="prefer"))(with_rule(rule())(tree))),
    ("wait-counted-twice", with_rule(rule(verdict="need", wait={"before": "mount", "fact": "degreaser.dry_min"}))),
    ("unknown-source", with_rule(rule(basis="handbook", sources=[{"id": "no-such-work"}]))),
    ("unknown-source", with_item("acetone", sources=({"id": "no-such-work", "locator": ""},))),
    ("uncited-source", with_source),
    ("unread-fact", lambda tree: replace(tree, exceptions={})),
    ("alias-two-ways", with_item("acetone", aliases=("Acetone",))),
    ("unknown-substance", with_item("acetone", substances=("phlogiston",))),
    ("unknown-substance", with_item("rubber-fkm", swollen_by_substances=("phlogiston",))),
]


@pytest.mark.parametrize(("check", "change"), BAD, ids=[f"{i}-{check}" for i, (check, _) in enumerate(BAD)])
def test_a_bad_example_is_found(check: str, change: Change, tree: Tree) -> None:
    before = {str(p) for p in run(tree, [LINTERS[check]])}
    found = [p for p in run(change(tree), [LINTERS[check]]) if str(p) not in before]
    assert found, f"{check} finds nothing"
    assert all(p.check == check and p.what and p.tip for p in found)


def test_a_good_rule_passes_every_check_on_rules(tree: Tree) -> None:
    names = ("unproven", "unknown-fact", "unknown-word", "never-fires", "covered", "contradiction", "unknown-source")
    good = rule(when=[{"fact": "degreaser.dry_min", "above": 5}, {"fact": "degreaser.family", "is": "ketone"}])
    good["cases"] = cases(
        (True, {"degreaser": {"dry_min": 6, "family": "ketone"}}),
        (False, {"degreaser": {"dry_min": 5, "family": "ketone"}}),
        (False, {"degreaser": {"dry_min": 6, "family": "ester"}}),
    )
    slow = with_item("acetone", dry_min=6.0)
    assert run(with_rule(good)(slow(tree)), [LINTERS[name] for name in names]) == []


def test_a_missing_range_and_a_dead_item_are_found(tree: Tree) -> None:
    bare = with_item("polyurethane-lacquer-air-drying")(tree)
    facts = {k: v for k, v in bare.entries["made-up"].facts.items() if not k.startswith("ranges")}
    made = bare.entries["made-up"]._replace(facts=facts)
    changed = replace(bare, entries={**bare.entries, "made-up": made})
    found = run(changed, [LINTERS["missing-range"]])
    assert [p.where for p in found] == ["made-up"]
    # No probe job knows the made-up item, so none uses it.
    assert "made-up" in {p.where for p in run(bare, [LINTERS["dead-item"]])}


def test_a_stale_exception_is_found(tree: Tree) -> None:
    stale = replace(tree, exceptions={**tree.exceptions, ("covered", "no-such-rule"): "was needed once"})
    found = run(stale, [LINTERS["covered"]])
    assert [p.check for p in found] == ["stale-exception"]


def test_what_ships_is_clean() -> None:
    assert [str(problem) for problem in lint(roots(None))] == []


def test_a_labs_own_are_linted_too(house: Path) -> None:
    (house / "rules" / "mine.toml").write_text(
        'id = "mine"\ntitle = "t"\nverdict = "block"\nabout = ["degreaser"]\nmessage = "m"\nbecause = "b"\n'
        'basis = "memory"\nadded = 2026-11-25\n[[when]]\nfact = "degreaser.family"\nis = "alcohol"\n'
        '[[cases]]\nfires = true\nwith = { degreaser = "isopropyl-alcohol" }\n'
    )
    problems = lint(roots(house))
    assert any("mine.toml" in p.where and p.check == "unproven" for p in problems)
