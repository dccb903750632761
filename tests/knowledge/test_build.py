"""Items and rules from files: what is refused, and how it is said. House items and rules on top."""

from __future__ import annotations

from pathlib import Path

import pytest

from kb import knowledge
from kb.base.errors import BadInput
from kb.knowledge import Knowledge
from kb.knowledge.build import build
from kb.knowledge.cache import roots

ITEM = """
id = "shelf-alcohol"
like = "isopropyl-alcohol"
name = "the alcohol on our shelf"
family = "alcohol"
basis = "memory"
opened_life_days = 30
"""
RULE = """
id = "no-alcohol-on-tuesdays-bench"
title = "House: no alcohol here"
verdict = "block"
about = ["degreaser"]
message = "{degreaser} is not used in this room"
because = "The room has no extraction."
basis = "common-practice"
added = 2026-11-25
[[when]]
fact = "degreaser.family"
is = "alcohol"
[[cases]]
fires = true
with = { degreaser = "isopropyl-alcohol" }
[[cases]]
fires = false
with = { degreaser = "acetone" }
"""


def house_item(house: Path, text: str, name: str = "shelf-alcohol") -> None:
    folder = house / "catalog" / "degreaser"
    folder.mkdir(exist_ok=True)
    (folder / f"{name}.toml").write_text(text)


def house_rule(house: Path, text: str, name: str = "no-alcohol-on-tuesdays-bench") -> None:
    (house / "rules" / f"{name}.toml").write_text(text)


def test_a_house_item_takes_over_what_it_does_not_give(house: Path, knowledge: Knowledge) -> None:
    house_item(house, ITEM)
    own = load(house).entry("shelf-alcohol")
    generic = knowledge.entry("isopropyl-alcohol")
    assert own.facts["opened_life_days"] == 30
    assert own.facts["house"] is True
    assert own.facts["composition"] == generic.facts["composition"]
    assert own.facts["hansen.dph"] == generic.facts["hansen.dph"]


def load(house: Path) -> Knowledge:
    return knowledge.load(house)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('family = "alcohol"', 'family = "alcohols"', "'alcohols' is not a family of degreaser"),
        ("opened_life_days", "opened_life_day", "there is no such field; did you mean 'opened_life_days'?"),
        ("= 30", "= -3", "opened_life_days: should be greater than 0 (given: -3)"),
        ('"isopropyl-alcohol"', '"isopropyl-alcool"', "did you mean 'isopropyl-alcohol'?"),
        ('id = "shelf-alcohol"', 'id = "other"', "rename one of them to 'other'"),
        ('basis = "memory"', 'basis = "handbook"', "needs at least one entry in sources"),
        ('basis = "memory"', 'hazards = ["explosive"]\nbasis = "memory"', "hazards: 'explosive' is not a hazard"),
        ('basis = "memory"', "basis = ", "is not TOML"),
    ],
)
def test_a_broken_house_item_is_one_line(house: Path, old: str, new: str, said: str) -> None:
    house_item(house, ITEM.replace(old, new))
    with pytest.raises(BadInput) as fault:
        load(house)
    assert said in str(fault.value)
    assert "shelf-alcohol.toml" in str(fault.value)


def test_an_item_can_not_take_a_shipped_id(house: Path) -> None:
    house_item(house, ITEM.replace('id = "shelf-alcohol"', 'id = "acetone"'), "acetone")
    with pytest.raises(BadInput, match="already a degreaser"):
        load(house)


def test_a_house_rule_tightens(house: Path) -> None:
    house_rule(house, RULE)
    assert "no-alcohol-on-tuesdays-bench" in load(house).rules_by_id


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('verdict = "block"', 'verdict = "forbid"', "should be 'block', 'need', 'caution', 'prefer' or 'suits'"),
        ('fact = "degreaser.family"', 'fact = "solvent.family"', "'solvent.family' is not role.field"),
        ('is = "alcohol"', 'is = "alcohol"\nbelow = 3', "give exactly one operator"),
        ('is = "alcohol"', 'below = "three"', "below: 'three' is not a number"),
        ('is = "alcohol"', 'iss = "alcohol"', "did you mean 'is'?"),
        ('about = ["degreaser"]', 'about = ["solvent"]', "about: 'solvent' is not a role"),
        ('verdict = "block"', 'verdict = "need"', "a need has exactly one of: needs, wait, step"),
        ('basis = "common-practice"', 'basis = "standard"', "needs at least one entry in sources"),
        ('basis = "common-practice"', 'basis = "common-practice"\nloosens = "x"', "needs a `reason`"),
    ],
)
def test_a_broken_house_rule_is_one_line(house: Path, old: str, new: str, said: str) -> None:
    house_rule(house, RULE.replace(old, new))
    with pytest.raises(BadInput) as fault:
        load(house)
    assert said in str(fault.value)
    assert "no-alcohol" in str(fault.value)
    assert "\n" not in str(fault.value)


def test_loosening_says_so_everywhere(house: Path, knowledge: Knowledge) -> None:
    loosened = next(rule for rule in knowledge.rules if rule.verdict == "block" and "degreaser" in rule.about)
    lines = f'verdict = "caution"\nloosens = "{loosened.id}"\nreason = "tried on offcuts"'
    house_rule(house, RULE.replace('verdict = "block"', lines))
    lab = load(house)
    assert lab.rules_by_id[loosened.id].verdict == "need"
    assert "tried on offcuts" in lab.rules_by_id[loosened.id].because
    assert any("tried on offcuts" in note for note in lab.notes)


def test_loosening_nothing_is_refused(house: Path) -> None:
    house_rule(house, RULE.replace('basis = "common', 'loosens = "no-such-rule"\nreason = "r"\nbasis = "common'))
    with pytest.raises(BadInput, match="there is no rule 'no-such-rule'"):
        load(house)


def test_what_is_built_is_plain(knowledge: Knowledge) -> None:
    payload = build(roots(None))
    assert len(payload["entries"]) == len(knowledge.entries)
    assert [rule[0] for rule in payload["rules"]] == sorted(rule[0] for rule in payload["rules"])
