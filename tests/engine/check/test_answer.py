"""A class is judged member by member, at its cautious end; the answer says how words were read."""

from __future__ import annotations

import pytest

from kb.base.errors import BadInput
from kb.engine.check import VERDICTS, Answer, answer, question, remedies
from kb.engine.plan import Engine
from kb.report.check import check_json, check_text
from kb.report.members import member_words
from tests.engine.check.asking import thing, together


def asked(engine: Engine, *words: str) -> Answer:
    return answer(engine, question(words, engine.knowledge, "t"))


def test_a_class_has_the_verdict_of_its_worst_member(engine: Engine) -> None:
    found = asked(engine, "RTV", "brass")
    verdicts = {member.checked.verdict for member in found.members}
    assert found.checked.verdict == "blocked"
    assert verdicts == {"blocked", "caution", "compatible"}
    for member in found.members:
        assert together(engine, *member.checked.items).verdict == member.checked.verdict


def test_where_members_differ_it_is_told_who_fares_how(engine: Engine) -> None:
    text = " ".join(check_text(asked(engine, "RTV", "brass")).split())
    assert "blocked: silicone-acetoxy (all 3)." in text
    assert "of the 20 that it may be 10 go together" in text
    assert "it counts as blocked" in text
    assert "caution: silicone-neutral-cure-oxime-flowable and silicone-neutral-cure-oxime-paste." in text
    document = check_json(asked(engine, "RTV", "brass"))
    assert {row["verdict"] for row in document["by_member"]} == {"blocked", "caution", "compatible"}
    (rtv, brass) = document["read_as"]
    assert rtv["typed"] == "RTV"
    assert "silicone-acetoxy-paste" in rtv["members"]
    assert document["classes"] == {rtv["as"]: rtv["members"], brass["as"]: brass["members"]}


def test_a_rule_says_of_which_members_it_speaks(engine: Engine) -> None:
    text = " ".join(check_text(asked(engine, "IPA", "over", "conformal coating")).split())
    assert "does not last under solvent splashes (said of acrylic-lacquer (all 6) and " in text
    assert "(said of parylene (all 3)) [coating-graded-good-in-this-exposure" in text
    alike = " ".join(check_text(asked(engine, "acetone", "over", "parylene-c-type")).split())
    assert "said of" not in alike
    rows = check_json(asked(engine, "IPA", "over", "conformal coating"))["by_member"]
    assert {"solvent-splash-ruins-coat" in row["rules"] for row in rows} == {True, False}


def test_of_two_classes_the_one_is_told_that_says_most(engine: Engine) -> None:
    text = " ".join(check_text(asked(engine, "epoxy", "silicone")).split())
    assert "silicone-acetoxy (all 3): blocked with each." in text
    assert "silicone-neutral-cure-lacquer: needs with each." in text
    assert "blocked with epoxy-room-cure-fast." in text


def test_where_all_members_fare_alike_none_is_told_apart(engine: Engine) -> None:
    found = asked(engine, "paper gauge", "cyanoacrylate")
    assert list(member_words(found.members)) == []
    assert "COMPATIBLE: known to go together" in check_text(found)


def test_the_order_of_classes_of_coats_is_told(engine: Engine) -> None:
    found = asked(engine, "PU lacquer", "butyl")
    assert set(found.checked.orders.values()) == {"compatible", "blocked"}
    assert "in the right order only" in check_text(found)


@pytest.mark.parametrize("coat", ["butyl-mastic-tape", "polysulfide-two-part-paste"])
def test_a_coat_that_is_no_first_coat_needs_one(coat: str, engine: Engine) -> None:
    things = [thing("epoxy-room-cure-two-part", engine), thing(coat, engine)]
    found = together(engine, "epoxy-room-cure-two-part", coat)
    assert found.verdict == "needs"
    assert [(use.words, use.possible) for use in found.uses] == [(("as the first coat",), False)]
    (below,) = [remedy for remedy in remedies(engine, things, found) if remedy.below]
    for name in below.by:
        assert together(engine, "epoxy-room-cure-two-part", name, coat).verdict == below.verdict != "blocked"


def test_a_coat_that_harms_the_gauge_is_not_moved_outwards(engine: Engine) -> None:
    found = together(engine, "epoxy-room-cure-two-part", "silicone-acetoxy-paste")
    assert found.verdict == "blocked"
    assert not found.uses


def test_how_a_word_was_read_is_said(engine: Engine) -> None:
    text = " ".join(check_text(asked(engine, "gear oil", "butyl tape")).split())
    assert '"gear oil" is read as mineral-oil, an exposure.' in text
    assert "BLOCKED" in text


def test_every_member_of_every_class_of_words_is_judged_no_better_than_the_class(engine: Engine) -> None:
    for words in (("emery cloth", "brass"), ("chlorinated solvent", "titanium"), ("shot blasting", "titanium")):
        found = asked(engine, *words)
        worst = max(VERDICTS.index(member.checked.verdict) for member in found.members)
        assert VERDICTS.index(found.checked.verdict) == worst
        assert len(found.members) > 1


def test_classes_of_too_many_members_are_no_question(engine: Engine) -> None:
    with pytest.raises(BadInput, match="narrower"):
        asked(engine, "steel", "solvent", "lacquer", "super glue")


def test_what_is_proposed_helps(engine: Engine) -> None:
    for names in (("acetone", "polycarbonate"), ("butyl-mastic-tape", "mineral-oil"), ("acetone", "abs", "heptane")):
        checked = together(engine, *names)
        assert checked.verdict == "blocked"
        for way in remedies(engine, [thing(name, engine) for name in names], checked):
            for name in way.by:
                swapped = [name if one == way.item else one for one in names]
                assert together(engine, *swapped).verdict == way.verdict != "blocked"


def test_what_is_proposed_to_be_added_supplies_the_need(engine: Engine) -> None:
    names = ("polypropylene", "epoxy-room-cure-two-part")
    checked = together(engine, *names)
    assert checked.verdict == "needs"
    (way,) = remedies(engine, [thing(name, engine) for name in names], checked)
    assert way.item == ""
    for name in way.by:
        assert engine.knowledge.entry(name).kind == "treatment"
        assert together(engine, *names, name).verdict == way.verdict != "blocked"


def test_document_and_text(engine: Engine) -> None:
    checked = asked(engine, "acetone", "polycarbonate")
    things = [thing(name, engine) for name in ("acetone", "polycarbonate")]
    ways = remedies(engine, things, checked.checked)
    document = check_json(checked, ways)
    assert document["schema"] == "tackroom.check/1"
    assert document["unseen"] is False
    text = check_text(checked, ways)
    assert "BLOCKED" in text
    assert "in place of acetone take" in text
    assert max(map(len, text.splitlines())) <= 100
    assert "remedies" not in check_json(checked, None)


def test_what_is_not_known_is_said_to_be(engine: Engine) -> None:
    found = asked(engine, "oxygen-plasma", "butyl-mastic-tape")
    document = check_json(found)
    assert (document["verdict"], document["unseen"]) == ("not-known", True)
    assert "butyl-mastic-tape and oxygen-plasma never meet in a chain" in check_text(found)
