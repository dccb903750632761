"""What nobody has given is asked for in words that people use, never by the name of a field."""

from __future__ import annotations

import pytest

from kb.knowledge import Knowledge
from kb.rules.clauses import Clause
from kb.rules.findings import judge
from kb.rules.rule import Rule
from kb.rules.unknowns import unknown_words
from kb.rules.words import message


def test_every_fact_that_a_rule_reads_has_a_question_of_its_own(knowledge: Knowledge) -> None:
    # A choice that was made is always known.
    chosen = ("choose.",)
    paths = sorted({p for rule in knowledge.rules for p in rule.facts() if not p.startswith(chosen)})
    assert len(paths) > 300
    for path in paths:
        said = unknown_words([path], {path.partition(".")[0]: "IT"})
        assert said.split()[0] in ("how", "what", "whether", "which", "when", "in", "where"), said
        assert "_" not in said, said
        assert not said.startswith(f"what the {path.partition('.')[2].replace('_', ' ')} of"), f"{path}: {said}"


def test_a_fact_of_a_lab_s_own_is_named_by_its_field() -> None:
    assert unknown_words(["coating.house_colour"], {"coating": "wax"}) == "what the house colour of wax is"


@pytest.mark.parametrize(
    ("paths", "said"),
    [
        (("substrate.metallic",), "It is not known whether the sheet is a metal. If this applies: no"),
        (
            ("substrate.metallic", "part.populated"),
            "It is not known whether the sheet is a metal, and whether live parts are on or near the part. "
            "If this applies: no",
        ),
        (
            ("substrate.id", "substrate.family", "substrate.dust_hazard"),
            "It is not known which material exactly the sheet is, what the sheet is made of, and what is in the dust "
            "of the sheet. If this applies: no",
        ),
    ],
)
def test_several_unknown_facts_make_one_sentence(paths: tuple[str, ...], said: str) -> None:
    when = tuple(Clause(path, "is", "x") for path in paths)
    rule = Rule("r", "t", "block", ("substrate",), "no", "b", "", "memory", (), when)
    finding = judge(rule, {"substrate": {"name": "the sheet"}, "part": {}})
    assert finding is not None
    assert message(finding) == said


def test_a_figure_that_is_not_known_is_told_as_such() -> None:
    when = (Clause("substrate.max_temperature_c", "below", 60),)
    text = "{substrate} stands {substrate.max_temperature_c} degC"
    rule = Rule("r", "t", "block", ("substrate",), text, "b", "", "memory", (), when)
    finding = judge(rule, {"substrate": {"name": "the sheet"}})
    assert finding is not None
    assert message(finding).endswith("If this applies: the sheet stands an unknown number of degC")
