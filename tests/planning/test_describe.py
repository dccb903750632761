"""Questions about a material that the catalog lacks: only those whose answer would change the chain.

What is asked is held against plans made apart from the interview.
"""

from __future__ import annotations

import io
import json
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.cli import main
from kb.engine.plan import Engine, Plan
from kb.job import Job, job_of
from kb.knowledge import Knowledge
from kb.knowledge.catalog import Substrate
from kb.knowledge.derive import DERIVED
from kb.knowledge.questions import load_questions
from kb.materials.relatives import relatives
from kb.materials.resolve import described, substrate
from kb.planning.describe import UNKNOWN, Interview
from kb.planning.gaps import Answer, Question, gaps, hangs, questions
from kb.report.described import described_json
from kb.report.interview import part_table
from kb.report.plan_text import plan_text

PART = {"substrate": "?", "thickness_mm": 3}
ROOM = job_of({"part": PART, "service": {"temperature_c": [10, 60]}}, "t")
OIL = job_of({"part": PART, "service": {"temperature_c": [-20, 90], "exposures": ["mineral-oil"]}}, "t")


def chain_of(plan: Plan) -> Any:
    if not plan.chains:
        return None
    return [(o.id, o.cure["id"] if o.cure else None) for o in plan.chains[0].picks]


def true_answer(item: str, knowledge: Knowledge) -> Any:
    """Answers as somebody does who holds `item` and finds out what the tests can tell."""
    facts = knowledge.entry(item).facts

    def answer(interview: Interview, question: Question) -> str:
        if question.choice:
            return str(facts["family"])
        if question.number is not None and question.number in facts:
            return f"{facts[question.number]}"
        fit = [a for a in interview.possible(question) if all(facts.get(n) == v for n, v in a.sets.items())]
        return fit[0].key if fit else UNKNOWN

    return answer


def interviewed(engine: Engine, job: Job, given: dict[str, Any], answer: Any) -> Interview:
    interview = Interview(engine, job, dict(given))
    while (question := interview.next()) is not None:
        interview.answer(question, answer(interview, question))
    return interview


def test_every_fact_that_rules_read_of_a_part_can_be_asked_for(knowledge: Knowledge) -> None:
    asked = {fact for question in questions(knowledge) for fact in question.facts}
    read = {name.partition(".")[0] for name in knowledge.tables["lookup"]["read"]["substrate"]}
    assert read - set(DERIVED) <= asked


def test_the_technicians_tests_are_among_them(knowledge: Knowledge) -> None:
    text = " ".join(f"{q.ask} {q.test}".lower() for q in questions(knowledge))
    for word in ("drop of water spread", "ring", "thud", "magnet hold", "drop of solvent", "offcut"):
        assert word in text


def test_what_an_answer_sets_is_of_the_form_of_the_catalog(knowledge: Knowledge) -> None:
    for question in questions(knowledge):
        for answer in question.answers:
            found = described({"name": "x", **answer.sets}, knowledge, "t")
            assert {name: found.entry.facts[name] for name in answer.sets} == dict(answer.sets)


@pytest.mark.parametrize(
    ("given", "item"),
    [
        ({"name": "a clear sheet"}, "polycarbonate"),
        ({"family": "polyamide"}, "polyamide-6"),
        ({"family": "aluminium-alloy"}, "aluminium-7075"),
        ({"name": "a light bracket", "metallic": True}, "magnesium-az91d"),
    ],
)
def test_a_question_is_asked_only_if_some_answer_changes_the_chain(
    given: dict[str, Any], item: str, engine: Engine
) -> None:
    """For each question of an interview, by plans made for each answer anew."""
    answer = true_answer(item, engine.knowledge)
    interview = Interview(engine, ROOM, dict(given))
    while (question := interview.next()) is not None:
        now = chain_of(engine.plan(ROOM, interview.resolved().entry, 1))
        missing = interview.resolved().missing
        others = []
        for possible in interview.possible(question):
            fuller = {**interview.given, **{n: v for n, v in possible.sets.items() if n in missing}}
            others.append(chain_of(engine.plan(ROOM, described(fuller, engine.knowledge, "t").entry, 1)))
        assert any(other != now for other in others), question.id
        interview.answer(question, answer(interview, question))


@pytest.mark.parametrize(("given", "job"), [({"family": "polyamide"}, ROOM), ({"family": "epoxy"}, OIL)])
def test_what_is_not_asked_changes_nothing(given: dict[str, Any], job: Job, engine: Engine) -> None:
    """Leaving out facts on which nothing hangs is a short cut: without it the same questions are found."""
    interview = interviewed(engine, job, given, lambda *_: UNKNOWN)
    now = chain_of(engine.plan(job, interview.resolved().entry, 1))
    for question in interview.questions.values():
        if question.id in interview.answers:
            continue
        for answer in interview.possible(question):
            missing = interview.resolved().missing
            fuller = {**interview.given, **{n: v for n, v in answer.sets.items() if n in missing}}
            assert chain_of(engine.plan(job, described(fuller, engine.knowledge, "t").entry, 1)) == now, answer


def test_unknown_stays_unknown(engine: Engine) -> None:
    interview = interviewed(engine, ROOM, {"family": "polyamide"}, lambda *_: UNKNOWN)
    assert interview.given == {"family": "polyamide"}
    assert set(interview.answers.values()) == {UNKNOWN}
    assert list(interview.open()) == []


def test_an_interview_with_true_answers_refuses_what_the_catalogued_one_does(engine: Engine) -> None:
    """Solvents that craze polycarbonate are refused for the sheet that turned out to be it."""
    interview = interviewed(engine, ROOM, {"name": "a clear sheet"}, true_answer("polycarbonate", engine.knowledge))
    assert interview.given["family"] == "polycarbonate"
    found = {item.id for item, _ in interview.asked().plan.excluded}
    for solvent in ("acetone", "technical-toluene", "technical-dichloromethane"):
        assert solvent in found


def test_gaps_name_the_rules_that_hang_on_a_fact(engine: Engine) -> None:
    resolved = described({"family": "polyamide"}, engine.knowledge, "t")
    plan = engine.plan(ROOM, resolved.entry, 1)
    found = {gap.fact: gap for gap in gaps(plan, resolved)}
    assert "low-energy-surface-needs-activation" in {r.id for r in found["surface_tension_mn_m"].rules}
    assert found["surface_tension_mn_m"].questions[0].id == "water-spreads"
    assert set(found) <= set(resolved.missing)
    for gap in found.values():
        assert gap.rules
        assert gap.questions, f"nobody is told how to find out {gap.fact}"


def test_a_fact_on_which_nothing_hangs_is_no_gap(engine: Engine) -> None:
    """What no rule reads, and what the job itself settles: with its own limit the part's is not asked for the cure."""
    resolved = described({"family": "polyamide"}, engine.knowledge, "t")
    assert "density_g_cm3" in resolved.missing
    plan = engine.plan(ROOM, resolved.entry, 1)
    assert "density_g_cm3" not in hangs(plan.screened, resolved.missing)
    known = engine.knowledge.entry("polyamide-6")
    assert gaps(engine.plan(ROOM, known, 1), substrate("polyamide-6", engine.knowledge, "t")) == ()


def test_answers_are_keys_figures_families_or_unknown(engine: Engine) -> None:
    interview = Interview(engine, ROOM, {"name": "x"})
    ask = interview.questions
    interview.answer(ask["make"], "plast")
    assert interview.given["organic"] is True
    interview.answer(ask["water-spreads"], "31.5")
    assert interview.given["surface_tension_mn_m"] == 31.5
    interview.answer(ask["family"], "polycarbonate")
    interview.answer(ask["damp"], UNKNOWN)
    assert "water_sensitive" not in interview.given
    assert interview.answers == {
        "make": "plastic", "water-spreads": "31.5", "family": "polycarbonate", "damp": UNKNOWN,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("question", "words", "said"),
    [
        ("make", "metall", "did you mean 'metal'"),
        ("make", "s", "'s' is no answer"),
        ("heat", "warm", "'warm' is no answer; one of: a figure in degC, unknown"),
        ("heat", "-400", "heat: -400 degC is below absolute zero; write the figure in degC"),
        ("heat", "80 kg", "'80 kg' is not in a unit that converts to degC"),
        ("heat", "1,250", "a comma may part thousands or decimals"),
        ("heat", "nan", "'nan' is no answer"),
        ("family", "banana", "'banana' is no family; write one, or unknown"),
        ("family", "polyamid", "did you mean 'polyamide'"),
        ("coat", "no", "contradicts thin_layer = yes; mend one of them, or say unknown"),
    ],
)
def test_a_bad_answer_is_one_line_and_changes_nothing(question: str, words: str, said: str, engine: Engine) -> None:
    interview = Interview(engine, ROOM, {"name": "x", "thin_layer": True})
    with pytest.raises(BadInput) as fault:
        interview.answer(interview.questions[question], words)
    assert said in str(fault.value)
    assert "\n" not in str(fault.value)
    assert interview.given == {"name": "x", "thin_layer": True}
    assert interview.answers == {}


def test_words_for_a_family_find_it(engine: Engine) -> None:
    interview = Interview(engine, ROOM, {"name": "x"})
    for typed, family in (("nylon", "polyamide"), ("inox", "stainless-steel"), ("polyamid", "'polyamide'")):
        with pytest.raises(BadInput, match=rf"'{typed}' is no family; did you mean {family}"):
            interview.answer(interview.questions["family"], typed)


def test_a_family_that_contradicts_what_is_known_is_refused(engine: Engine) -> None:
    """What shines in a scratch is no polycarbonate."""
    interview = Interview(engine, ROOM, {"name": "x"})
    interview.answer(interview.questions["make"], "metal")
    given = dict(interview.given)
    with pytest.raises(BadInput, match="'polycarbonate' contradicts organic = no; mend one of them"):
        interview.answer(interview.questions["family"], "polycarbonate")
    assert interview.given == given


def test_a_fact_that_is_known_already_stays_as_it_is(engine: Engine) -> None:
    """What a data sheet says of the heat goes before what boiling water shows."""
    interview = Interview(engine, ROOM, {"name": "x", "max_temperature_c": 85})
    interview.answer(interview.questions["boiling-water"], "yes")
    assert interview.given == {"name": "x", "max_temperature_c": 85, "heat_softens": True}


def test_an_answer_can_be_taken_back(engine: Engine) -> None:
    interview = Interview(engine, ROOM, {"name": "x"})
    assert not interview.back()
    interview.answer(interview.questions["make"], "metal")
    before = dict(interview.given)
    interview.answer(interview.questions["magnet"], "holds")
    assert interview.back()
    assert (interview.given, list(interview.answers)) == (before, ["make"])
    assert interview.back()
    assert (interview.given, interview.answers) == ({"name": "x"}, {})
    assert next(q.id for q in interview.open()) == "make"


@pytest.mark.parametrize(
    ("typed", "figure"),
    [("85", 85), ("85 C", 85), ("185 F", 85), ("84,5", 84.5), (" 85 degC ", 85)],
)
def test_a_figure_may_have_its_unit(typed: str, figure: float, engine: Engine) -> None:
    interview = Interview(engine, ROOM, {"name": "x"})
    interview.choose(interview.questions["heat"], typed)
    assert interview.given["max_temperature_c"] == figure


def test_yes_and_no_are_understood_where_there_are_two_answers(engine: Engine) -> None:
    interview = Interview(engine, ROOM, {"name": "x"})
    interview.choose(interview.questions["water-soaks"], "No")
    interview.choose(interview.questions["conducts"], "y")
    assert (interview.given["porous"], interview.given["conductive"]) == (False, True)


@pytest.mark.parametrize("typed", ["", "  ", "?", "unknown", "No idea", "don't know", "-"])
def test_many_ways_to_say_that_it_is_not_known(typed: str, engine: Engine) -> None:
    for question in ("make", "heat", "family"):
        interview = Interview(engine, ROOM, {"name": "x"})
        interview.choose(interview.questions[question], typed)
        assert (interview.given, interview.answers) == ({"name": "x"}, {question: UNKNOWN})


@pytest.mark.parametrize(("fact", "question"), [("metallic", "make"), ("thin_layer", "coat"), ("hardness", "scratch")])
def test_the_question_that_tells_most_about_a_fact_is_named_first(fact: str, question: str, engine: Engine) -> None:
    """A magnet that doesn't hold says nothing about whether it is a metal."""
    resolved = described({"name": "x"}, engine.knowledge, "t")
    found = {gap.fact: gap for gap in gaps(engine.plan(ROOM, resolved.entry, 1), resolved)}
    assert found[fact].questions[0].id == question


def test_families_that_contradict_what_is_known_are_not_offered(engine: Engine) -> None:
    interview = Interview(engine, ROOM, {"name": "x"})
    interview.answer(interview.questions["magnet"], "holds")
    offered = {a.key for a in interview.possible(interview.questions["family"])}
    assert "carbon-steel" in offered
    assert not offered & {"aluminium-alloy", "polyamide", "glass"}


def test_relatives_come_nearest_first_with_what_differs(knowledge: Knowledge) -> None:
    peek = knowledge.entry("peek")
    own = described({"like": "peek", "max_temperature_c": 90}, knowledge, "t").entry
    first, *others = relatives(own, knowledge)
    assert first.entry.id == "peek"
    assert first.differs == (("max_temperature_c", 90.0, peek.facts["max_temperature_c"]),)
    assert [r.likeness for r in others] == sorted((r.likeness for r in others), reverse=True)
    assert relatives(peek, knowledge)[0].likeness == 1


def test_nothing_known_has_no_relatives(knowledge: Knowledge) -> None:
    assert relatives(described({"name": "x"}, knowledge, "t").entry, knowledge) == []


def test_the_part_table_gives_the_same_plan(engine: Engine) -> None:
    interview = interviewed(engine, ROOM, {"name": 'a "clear" sheet'}, true_answer("polycarbonate", engine.knowledge))
    table = tomllib.loads(part_table(interview.given, ROOM))
    again = job_of({**table, "service": {"temperature_c": [10, 60]}}, "t")
    entry = substrate(again.part.substrate, engine.knowledge, "t").entry
    assert again.part.thickness_mm == 3
    assert chain_of(engine.plan(again, entry, 1)) == chain_of(interview.asked().plan)


def test_the_answer_to_a_plan_can_say_what_is_missing(engine: Engine) -> None:
    resolved = described({"family": "polyamide"}, engine.knowledge, "t")
    told = described_json(engine.plan(ROOM, resolved.entry, 1), resolved)
    assert {"fact", "decides", "find_out"} == set(told["missing"][0])
    assert "organic" in told["assumed"]
    assert told["relatives"][0]["id"].startswith("polyamide")
    json.dumps(told, allow_nan=False)


def test_the_text_of_a_plan_says_what_hangs_on_what_is_not_known(engine: Engine) -> None:
    resolved = substrate({"family": "polyamide"}, engine.knowledge, "t")
    text = plan_text(engine.plan(ROOM, resolved.entry), resolved, None)
    words = " ".join(text.split())
    assert "- surface_tension_mn_m: decides on An adhesive that wets a low-energy plastic as it is; Coats hold" in words
    assert "    bench:      Does a drop of water spread? Wipe an offcut with isopropyl alcohol" in text
    assert "    data sheet: surface energy or critical surface tension, in mN/m" in text
    assert "NEAREST KNOWN MATERIALS" in text
    assert "Part:    described polyamide (as described)\n" in text
    assert "  HANGS ON " in text.partition("STEPS")[0]
    catalogued = substrate("polyamide-6", engine.knowledge, "t")
    plain = plan_text(engine.plan(ROOM, catalogued.entry), catalogued, None)
    assert "NOT KNOWN OF THE PART" not in plain
    assert "NEAREST KNOWN" not in plain
    assert "HANGS ON" not in plain


def test_a_plan_for_a_class_says_what_it_may_be(engine: Engine) -> None:
    brass = substrate("brass", engine.knowledge, "t")
    text = plan_text(engine.plan(ROOM, brass.entry), brass, None)
    assert "(you wrote 'brass': any of brass-c26000, brass-c36000, at their" in text


@pytest.fixture
def job_file(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text('[part]\nsubstrate = "a clear sheet"\nthickness_mm = 3\n[service]\ntemperature_c = [10, 60]\n')
    return path


def command(*arguments: str, typed: str, monkeypatch: pytest.MonkeyPatch) -> int:
    monkeypatch.setattr(sys, "argv", ["tackroom", "describe", *arguments])
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
    with pytest.raises(SystemExit) as ended:
        main()
    code = ended.value.code
    return code if isinstance(code, int) else 0


def test_closed_standard_input_is_one_line_and_status_2(job_file: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "kb", "describe", str(job_file)],
        stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False, cwd=Path(__file__).parents[2],
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    assert "standard input ended at the question 'make'; answer at a terminal, or give --answers" in done.stderr


def test_a_session_asks_on_standard_error_and_ends_with_table_and_plan(
    job_file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The second answer, a slip that is asked again, then a family; the rest isn't known."""
    typed = "2\n99\npolycarbonate\n" + "\n" * 30
    assert command(str(job_file), typed=typed, monkeypatch=monkeypatch) == 0
    out = capsys.readouterr()
    assert out.out.startswith('[part]\nsubstrate = { name = "a clear sheet", organic = true,')
    assert 'family = "polycarbonate"' in out.out
    assert "CHAIN 1" in out.out
    assert "NEAREST KNOWN MATERIALS" in out.out
    assert "STILL OPEN" not in out.out
    assert "  '99' is no family; write one, or unknown\nname, or Enter if it isn't known: " in out.err
    assert out.err.count("Which family is it of?") == 1


def test_input_that_ends_early_leaves_the_rest_unknown(
    job_file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Ctrl-D after some answers: what was said is kept, and what is still open is told."""
    assert command(str(job_file), typed="plastic\n3\n", monkeypatch=monkeypatch) == 0
    out = capsys.readouterr()
    assert out.out.startswith('[part]\nsubstrate = { name = "a clear sheet", organic = true,')
    assert "STILL OPEN: an answer would change the chain" in out.out
    assert out.err.endswith("\nstopped: what was not asked stays unknown\n")


def test_back_asks_the_last_question_again(
    job_file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command(str(job_file), typed="back\nmetal\nback\nplastic\n", monkeypatch=monkeypatch) == 0
    out = capsys.readouterr()
    assert "there is no answer before this one" in out.err
    assert out.err.count("What is it made of") == 2
    assert "organic = true" in out.out


@pytest.mark.parametrize("typed", ["polycarbonate", "PTFE seal"])
def test_what_the_catalog_has_need_not_be_described(
    typed: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "job.toml"
    path.write_text(f'[part]\nsubstrate = "{typed}"\n[service]\ntemperature_c = [10, 60]\n')
    assert command(str(path), typed="", monkeypatch=monkeypatch) == 2
    assert f"'{typed}' is in the catalog: " in capsys.readouterr().err
    assert command(str(path), "--like", "peek", typed="\n" * 30, monkeypatch=monkeypatch) == 0


def test_a_family_given_beforehand_is_not_asked_for(
    job_file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    command(str(job_file), "--family", "polyamide", typed="\n" * 30, monkeypatch=monkeypatch)
    assert "Which family is it of?" not in capsys.readouterr().err


def test_answers_from_a_file(
    job_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = tmp_path / "answers.toml"
    answers.write_text('make = "plastic"\nfamily = "polyamide"\nheat = 80\n[facts]\nmodulus_gpa = 2.8\n')
    assert command(str(job_file), "--answers", str(answers), "--json", typed="", monkeypatch=monkeypatch) == 0
    out = capsys.readouterr()
    document = json.loads(out.out)
    assert out.err == ""
    assert document["schema"] == "tackroom.describe/1"
    assert document["answers"] == {"make": "plastic", "family": "polyamide", "heat": "80"}
    given = document["part"]["substrate"]
    assert (given["family"], given["max_temperature_c"], given["modulus_gpa"]) == ("polyamide", 80, 2.8)
    assert document["plan"]["schema"] == "tackroom.plan/1"
    assert document["plan"]["substrate"]["described"]["relatives"]
    assert "water-spreads" in document["open"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('heet = "80"\n', "heet: there is no such question; did you mean 'heat'?"),
        ('heat = "hot"\n', "'hot' is no answer"),
        ("facts = 3\n", "facts: should be a table"),
        ("[facts]\nmax_temp_c = 3\n", "did you mean 'max_temperature_c'?"),
        ("heat = [1]\n", "'[1]' is not a number with a unit"),
        ("heat = \n", "is not TOML"),
    ],
)
def test_a_bad_file_of_answers_is_one_line(
    text: str,
    said: str,
    job_file: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    answers = tmp_path / "answers.toml"
    answers.write_text(text)
    assert command(str(job_file), "--answers", str(answers), typed="", monkeypatch=monkeypatch) == 2
    out = capsys.readouterr()
    assert out.out == ""
    assert out.err.count("\n") == 1
    assert said in out.err


@pytest.mark.parametrize(
    ("was", "now", "said"),
    [
        ('key  = "holds"', 'key  = "no"', "two answers have the same key"),
        ("magnetic = true, thin_layer", "magnet = true, thin_layer", "'magnet' is no fact of a substrate"),
        ('hardness = "soft"', 'hardness = "softish"', "hardness"),
        ('id    = "magnet"', 'id    = "make"', "two questions have the same id"),
    ],
)
def test_a_fault_in_the_questions_is_told(was: str, now: str, said: str, tmp_path: Path) -> None:
    text = (Path(__file__).parents[2] / "generic_catalog" / "questions.toml").read_text()
    assert was in text
    path = tmp_path / "questions.toml"
    path.write_text(text.replace(was, now, 1))
    with pytest.raises(BadInput, match=said):
        load_questions(path)


def test_facts_are_those_of_the_model(knowledge: Knowledge) -> None:
    for question in questions(knowledge):
        assert set(question.facts) <= set(Substrate.model_fields)
        assert all(isinstance(answer, Answer) for answer in question.answers)


def test_a_lone_digit_that_numbers_no_answer_is_no_figure(engine: Engine) -> None:
    interview = Interview(engine, ROOM, {"name": "x"})
    question = next(q for q in interview.questions.values() if q.number is not None and 1 < len(q.answers) < 9)
    with pytest.raises(BadInput, match=f"none of the {len(question.answers)} answers"):
        interview.choose(question, "9")
    assert interview.answers == {}
    interview.choose(question, f"9 {question.unit}")
    assert interview.given[question.number or ""] == 9


def test_a_file_of_answers_takes_the_numbers_that_the_questions_show(engine: Engine) -> None:
    by_number, by_key = (Interview(engine, ROOM, {"name": "x"}) for _ in range(2))
    question = by_number.questions["water-soaks"]
    by_number.take({"water-soaks": 2, "heat": 85})
    by_key.take({"water-soaks": question.answers[1].key, "heat": 85.0})
    assert by_number.given == by_key.given
    assert by_number.answers["water-soaks"] == question.answers[1].key
