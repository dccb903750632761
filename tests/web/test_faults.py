"""A fault of the form names its field in plain words, and a material that isn't clear offers what may be meant."""

from __future__ import annotations

import pytest

from kb.base.errors import BadInput, TackroomError
from kb.knowledge import Knowledge
from kb.materials import resolve
from kb.web.faults import MATERIAL, Fault, of_form
from kb.web.fields import filled
from kb.web.forms import job_from


def faulty(knowledge: Knowledge, **fields: str) -> Fault:
    pairs = [(name.replace("__", "."), value) for name, value in fields.items()]
    try:
        resolve.of_part(job_from(pairs).part, knowledge, "form: part.substrate")
    except TackroomError as fault:
        return of_form(fault, filled(pairs), knowledge)
    raise AssertionError("nothing is wrong with it")


SPAN = {"service__temperature_c__0": "0", "service__temperature_c__1": "60"}


def test_a_fault_stands_at_its_field(knowledge: Knowledge) -> None:
    missing = faulty(knowledge, part__substrate="brass")
    assert missing.field == "service-temperature-c-0"
    wrong = faulty(knowledge, part__substrate="brass", **(SPAN | {"service__temperature_c__1": "warm"}))
    assert (wrong.field, wrong.label) == ("service-temperature-c-1", "Highest service temperature")
    assert "'warm' is not a number" in wrong.what
    assert "temperature_c" not in str(wrong)


def test_words_that_may_mean_several_materials_offer_them_by_name(knowledge: Knowledge) -> None:
    fault = faulty(knowledge, part__substrate="nylon brass", **SPAN)
    assert fault.name == MATERIAL
    assert len(fault.choices) > 1
    names = {entry.name for entry in knowledge.by_kind["substrate"]}
    assert set(fault.choices) <= names
    for name in fault.choices:
        assert resolve.substrate(name, knowledge, MATERIAL).entry.name == name, "the button asks the same again"


def test_no_fault_speaks_of_commands(knowledge: Knowledge) -> None:
    fault = faulty(knowledge, part__substrate="unobtainium qqq", **SPAN)
    assert fault.choices == ()
    assert "tackroom" not in str(fault)
    told = of_form(BadInput("form: limits.ready_within_h", "is odd", "see `tackroom list`, or write 3"), {}, knowledge)
    assert told.mend == "or write 3" or told.mend == "write 3"


def test_a_fault_of_no_field_is_told_all_the_same(knowledge: Knowledge) -> None:
    fault = of_form(BadInput("prefer", "'luck' is not a preference", "one of: time"), {}, knowledge)
    assert (fault.field, str(fault)) == ("", "prefer: 'luck' is not a preference; one of: time")


@pytest.mark.parametrize("minus", ["−", "–", "-"])
def test_every_minus_that_a_phone_has_is_read(minus: str) -> None:
    pairs = [("part.substrate", "brass"), ("service.temperature_c.0", f"{minus}40"), ("service.temperature_c.1", "9")]
    assert job_from(pairs).service.temperature_c == (-40.0, 9.0)
