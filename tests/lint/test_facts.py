"""What a rule misspells is the first thing that the lint says of it, with the word that was meant."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from kb.base.errors import BadInput
from kb.base.files import validated
from kb.knowledge.cache import roots
from kb.lint import LINTERS, lint, plant, run
from kb.lint.facts import known_facts, known_words
from kb.lint.tree import Problem, Tree
from kb.rules.form import RuleTable, rule_of
from kb.rules.roles import ROLES
from tests.test_docs import written


@pytest.fixture(scope="module")
def tree() -> Tree:
    return plant(roots(None))


def problems_of(tree: Tree, right: str, wrong: str) -> list[Problem]:
    """What the linters of rules say of the template with something misspelt in it, in their order."""
    template = written("DEVELOPERS.md", "rule")
    assert right in template
    table = validated(RuleTable, tomllib.loads(template.replace(right, wrong)), "r.toml")
    alone = replace(tree, rules=((rule_of(table, "r.toml"), table, "r.toml"),), exceptions={})
    return run(alone, [linter for linter in LINTERS.values() if linter.scope == "rule"])


def test_the_template_has_nothing_misspelt(tree: Tree) -> None:
    assert problems_of(tree, "", "") == []


@pytest.mark.parametrize(
    ("right", "wrong", "mend"),
    [
        (
            "degreaser.family",
            "degreaser.famly",
            "degreaser.famly: a degreaser has no such fact; did you mean 'family'?",
        ),
        ("degreaser.family", "degraser.family", "'degraser.family' is not role.field; did you mean 'degreaser'?"),
        ('["degreaser", ', '["degreser", ', "about: 'degreser' is not a role; did you mean 'degreaser'?"),
        ("{degreaser} swells", "{degreasr} swells", "'degreasr' is no role; did you mean 'degreaser'?"),
        ('is   = "terpene"', 'is   = "terpenne"', "'terpenne' is none of its words; did you mean 'terpene'?"),
        (
            '"silicone-rubber"',
            '"silicon-rubber"',
            "'silicon-rubber' is none of its words; did you mean 'silicone-rubber'?",
        ),
        (
            'substrate = "natural-rubber"',
            'substrate = { family = "ruber" }',
            "'ruber' is none of its words; did you mean",
        ),
        (
            'substrate = "natural-rubber"',
            'substrate = { famly = "rubber" }',
            "has no such fact; did you mean 'family'?",
        ),
        ('"limonene"', '"limonen"', "case: there is no degreaser 'limonen'; did you mean 'limonene'?"),
        ('"block"', '"blok"', "'suits' (given: 'blok'); did you mean 'block'?"),
        ("is   = ", "iss  = ", "when[0].iss: there is no such field (and 2 more faults); did you mean 'is'?"),
    ],
)
def test_what_is_misspelt_comes_first(tree: Tree, right: str, wrong: str, mend: str) -> None:
    try:
        first = str(problems_of(tree, right, wrong)[0])
    except BadInput as fault:
        first = str(fault)
    assert mend in first


@pytest.mark.parametrize(
    ("right", "wrong", "mend"),
    [
        (
            'family = "ester"',
            'family = "esther"',
            "family: 'esther' is not a family of degreaser; did you mean 'ester'?",
        ),
        (
            'basis = "memory"',
            'hazards = ["iritant"]\nbasis = "memory"',
            "hazards: 'iritant' is not a hazard; did you mean 'irritant'?",
        ),
        ('"fast"', '"fasst"', "'medium' or 'slow' (given: 'fasst'); did you mean 'fast'?"),
    ],
)
def test_what_an_item_misspells_is_told_with_what_was_meant(house: Path, right: str, wrong: str, mend: str) -> None:
    template = written("DEVELOPERS.md", "item degreaser")
    assert right in template
    folder = house / "catalog" / "degreaser"
    folder.mkdir()
    (folder / "methyl-acetate-wipe.toml").write_text(template.replace(right, wrong))
    with pytest.raises(BadInput) as fault:
        lint(roots(house))
    assert mend in str(fault.value)


@pytest.mark.parametrize(("word", "said"), [("limonen", True), ("xyzzy", False), ("limonene", False)])
def test_a_word_that_no_list_closes_may_be_new(tree: Tree, word: str, said: bool) -> None:
    """An id that no item has is let pass unless it is nearly one that an item has."""
    found = problems_of(tree, 'family"\nis   = "terpene"', f'id"\nis   = "{word}"')
    assert ("unknown-word" in {problem.check for problem in found}) is said


def test_every_role_has_facts() -> None:
    assert set(known_facts()) == set(ROLES)
    assert all(known_facts().values())


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("cure.id", set()),
        ("coating.resists.steam", {"good", "fair", "poor"}),
        ("abrasive_wet.form", {"paper", "pad", "film", "blast", "powder", "grinder"}),
        ("service.measurement", {"static", "dynamic", "both"}),
        ("bench.air_temperature_c", set()),
        ("no-such-role.family", set()),
    ],
)
def test_the_words_of_a_fact(path: str, words: set[str]) -> None:
    assert set(known_words(path)) == words


@pytest.mark.parametrize(
    ("path", "some"),
    [
        ("liquid.family", {"alcohol", "mild-phosphoric", "dilute-ammonia"}),
        ("degreaser.hazards", {"flammable"}),
        ("part.surface", {"bare", "painted"}),
        ("gauge.backing", {"any", "polyimide-film"}),
        ("limits.exclude_hazards", {"chromate"}),
    ],
)
def test_longer_lists_of_words(path: str, some: set[str]) -> None:
    assert some < set(known_words(path))
