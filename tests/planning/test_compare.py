"""Side by side: what differs is all that differs, and a condition is read as the job file reads it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kb.base.errors import BadInput
from kb.engine.plan import Engine
from kb.job import Job, job_of, read_job
from kb.knowledge import Entry
from kb.materials.resolve import substrate
from kb.planning.ask import ask
from kb.planning.compare import Comparison, Side, changed, ranked, side_of
from kb.report.compare import compare_json, compare_text
from kb.rules.roles import SLOTS
from tests.test_cli import run

DEMO = Path(__file__).parents[2] / "generic_catalog" / "demo"


@pytest.fixture(scope="module")
def board(engine: Engine) -> tuple[Job, Entry]:
    job = read_job(DEMO / "1-board.toml")
    return job, substrate(job.part.substrate, engine.knowledge, "t").entry


def conditions(engine: Engine, board: tuple[Job, Entry], *settings: str) -> Comparison:
    job, _ = board
    other = changed(job, settings, "--with")
    return Comparison(side_of(ask(engine, job, "job"), "as it is"), side_of(ask(engine, other, "job"), "with"))


def test_two_chains_differ_by_their_points(engine: Engine, board: tuple[Job, Entry]) -> None:
    plan = engine.plan(*board, top=20)
    for rank in (2, 5, 20):
        found = ranked(plan, 1, rank)
        one, other = found.one.chain, found.other.chain
        assert one is not None
        assert other is not None
        assert sum(gap.points[1] - gap.points[0] for gap in found.gaps) == other.cost - one.cost
        assert (one, other) == (plan.chains[0], plan.chains[rank - 1])
        assert (found.one.name, found.other.name) == ("chain 1", f"chain {rank}")
        filled = [slot for slot in SLOTS if one.pick(slot).id or other.pick(slot).id]
        assert found.slots == [(slot, one.pick(slot).id, other.pick(slot).id) for slot in filled]
        assert len(filled) < len(SLOTS), "a slot that neither fills is no row"
        assert found.conditions == []
        assert found.excluded == ([], [])


@pytest.fixture(scope="module")
def unlike(engine: Engine) -> tuple[Side, Side]:
    """The first chains of two jobs that have little in common."""
    one, other = (side_of(ask(engine, read_job(DEMO / name), "job"), name) for name in ("1-board.toml", "3-seal.toml"))
    return one, other


def test_a_slot_that_one_of_them_fills_is_a_row(unlike: tuple[Side, Side]) -> None:
    one, other = unlike
    rows = Comparison(one, other).slots
    assert any(first and not second for _, first, second in rows) or any(s and not f for _, f, s in rows)
    assert [(slot, second, first) for slot, first, second in rows] == Comparison(other, one).slots


def test_what_is_said_of_one_chain_only(unlike: tuple[Side, Side]) -> None:
    known = [{(f.rule.id, f.known) for f in side.chain.findings} for side in unlike if side.chain is not None]
    said = [[(f.rule.id, f.known) for f in findings] for findings in Comparison(*unlike).findings]
    assert [set(ids) for ids in said] == [known[0] - known[1], known[1] - known[0]]
    assert all(said)
    assert known[0] & known[1], "and some is said of both"


def test_a_chain_against_itself_differs_in_nothing(engine: Engine, board: tuple[Job, Entry]) -> None:
    found = ranked(engine.plan(*board, top=1), 1, 1)
    assert not found.gaps
    assert found.findings == ([], [])


def test_two_conditions_name_what_was_changed_and_what_is_refused(engine: Engine, board: tuple[Job, Entry]) -> None:
    found = conditions(engine, board, "service.temperature_c[1]=70", "part.max_process_temperature_c=100")
    assert [(field, one, other) for field, one, other in found.conditions] == [
        ("part.max_process_temperature_c", 60.0, 100.0),
        ("service.temperature_c[1]", 35.0, 70.0),
    ]
    one, other = found.excluded
    refused = [[entry.id for entry, _ in side.plan.excluded] for side in (found.one, found.other)]
    assert one == [item for item in refused[0] if item not in refused[1]]
    assert other == [item for item in refused[1] if item not in refused[0]]
    assert one
    assert other


def test_a_side_without_a_chain_says_why(engine: Engine, board: tuple[Job, Entry]) -> None:
    found = conditions(engine, board, "service.temperature_c[1]=300")
    assert found.other.chain is None
    document = compare_json(found)
    assert document["b"]["outcome"] == "no-chain"
    assert [row["field"] for row in document["b"]["conflict"]] == ["service.temperature_c[1]"]
    assert "WHY B HAS NO CHAIN: Nothing lives at 300 degC" in compare_text(found)


@pytest.mark.parametrize(
    ("setting", "field", "value"),
    [
        ("service.exposures=['humid-air']", ("service", "exposures"), ("humid-air",)),
        ("part.clamping=any", ("part", "clamping"), "any"),
        ("service.cycles=1e6", ("service", "cycles"), 1e6),
        ("limits.ready_within_h='2 days'", ("limits", "ready_within_h"), 48.0),
        ("part.populated=false", ("part", "populated"), False),
    ],
)
def test_a_setting_is_read_as_the_job_file_reads_it(
    setting: str, field: tuple[str, str], value: object, board: tuple[Job, Entry]
) -> None:
    job = changed(board[0], [setting], "--with")
    assert getattr(getattr(job, field[0]), field[1]) == value


@pytest.mark.parametrize(
    ("setting", "said"),
    [
        ("service", "^--with: 'service' is not FIELD=VALUE; for instance"),
        ("service.exposures", "is not FIELD=VALUE"),
        ("surface.colour=1", "^--with: 'surface.colour' is no field of this job; name it as the job file does$"),
        ("service.colour=1", "colour"),
        ("service.temperature_c[7]=1", "is no field of this job"),
        ("service.temperature_c[1]=hot", "hot"),
        ("part.clamping=maybe", "maybe"),
    ],
)
def test_a_setting_that_cannot_be_read_is_named(setting: str, said: str, board: tuple[Job, Entry]) -> None:
    with pytest.raises(BadInput, match=said):
        changed(board[0], [setting], "--with")


def test_a_job_with_nothing_changed_is_the_same_job(board: tuple[Job, Entry]) -> None:
    job = job_of({"part": {"substrate": {"like": "peek", "porous": True}}, "service": {"temperature_c": [0, 9]}}, "t")
    assert changed(job, [], "--with") == job
    assert changed(board[0], [], "--with") == board[0]


def test_ranks_that_are_not_there_are_named(engine: Engine, board: tuple[Job, Entry]) -> None:
    for one, other in ((1, 2), (2, 1)):
        with pytest.raises(BadInput, match=r"^compare: the job has 1 chains, no more; name ranks that there are$"):
            ranked(engine.plan(*board, top=1), one, other)


def test_the_commands() -> None:
    job = str(DEMO / "1-board.toml")
    explained = run("explain", job, "acetone", "--json")
    assert explained.returncode == 0
    assert json.loads(explained.stdout)["standing"] == "out"
    compared = run("compare", job, "1", "3", "--json")
    assert compared.returncode == 0
    assert json.loads(compared.stdout)["b"]["name"] == "chain 3"
    other = run("compare", job, str(DEMO / "2-bracket.toml"))
    assert other.returncode == 0
    assert "B: 2-bracket.toml" in other.stdout
    hopeless = run("compare", str(DEMO / "3-seal.toml"), "--with", "service.temperature_c[1]=500", "--json")
    assert json.loads(hopeless.stdout)["b"]["outcome"] == "no-chain"
    for wrong in (["explain", job, "qwxzv"], ["compare", job, "1"], ["compare", job, "1", "2", "3"]):
        done = run(*wrong)
        assert done.returncode == 2
        assert done.stderr.count("\n") == 1
        assert done.stdout == ""
