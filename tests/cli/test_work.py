"""`timeline`, `pick`, `record`, `trace`, `plan --stock` on the command line: documents, statuses, one line a fault."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from kb.base.errors import TackroomError
from kb.cli.program import program

JOB = """
[job]
name = "bracket"
planned_on = 2027-03-01
[part]
substrate = "stainless-304"
[service]
temperature_c = [10, 40]
[batch]
boards = 3
"""


class Said:
    def __init__(self, status: int, out: str, fault: str) -> None:
        self.status, self.out, self.fault = status, out, fault

    @property
    def document(self) -> Any:
        return json.loads(self.out)


@pytest.fixture
def lab(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TACKROOM_WORKSPACE", str(tmp_path))
    monkeypatch.setenv("TACKROOM_WHO", "kim")
    monkeypatch.setenv("TACKROOM_TODAY", "2027-03-05")
    (tmp_path / "job.toml").write_text(JOB)
    return tmp_path


def run(*words: str) -> Said:
    done = CliRunner().invoke(program(words), words)
    if isinstance(done.exception, TackroomError):
        return Said(done.exception.exit_status, done.stdout, str(done.exception))
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return Said(done.exit_code, done.stdout, done.stderr)


def adhesive_of(document: Any) -> str:
    return str(document["chains"][0]["items"]["adhesive"])


@pytest.mark.usefixtures("lab")
def test_a_timeline_says_when_to_start_and_what_holds_it_up() -> None:
    there = run("timeline", "job.toml", "--json").document
    assert there["schema"] == "tackroom.timeline/1"
    assert there["start"] == "2027-03-01 08:00"
    assert there["longest_chain_min"] <= there["ready_after_min"]
    back = run("timeline", "job.toml", "--deadline", there["ready"].replace(" ", "T"), "--json").document
    assert there["start"] <= back["start"] <= back["ready"] <= there["ready"]
    assert run("timeline", "job.toml").out == run("timeline", "job.toml").out


@pytest.mark.usefixtures("lab")
@pytest.mark.parametrize("option", ["--start", "--deadline"])
def test_a_start_and_a_deadline_may_be_named_by_their_day(option: str) -> None:
    # It is Friday, 2027-03-05.
    named = run("timeline", "job.toml", option, "thursday 12:00", "--json").document
    assert named == run("timeline", "job.toml", option, "2027-03-11T12:00", "--json").document
    for typed in ("someday", "tomorrow 8", "saturda"):
        said = run("timeline", "job.toml", option, typed)
        assert (said.status, said.fault.startswith(f"{option}: '{typed}' is not an ISO date")) == (2, True)


@pytest.mark.usefixtures("lab")
@pytest.mark.parametrize(("deadline", "past"), [("2027-03-05", True), ("2027-04-05", False)])
def test_a_deadline_that_nobody_can_keep_any_more_is_remarked(deadline: str, past: bool) -> None:
    said = run("timeline", "job.toml", "--deadline", deadline)
    assert said.status == 0
    assert ("had to start has passed" in said.fault) is past


def test_a_timeline_is_drawn(lab: Path) -> None:
    assert run("timeline", "job.toml", "--picture", "day.svg").status == 0
    assert "<title" in (lab / "day.svg").read_text()


@pytest.mark.usefixtures("lab")
@pytest.mark.parametrize(
    ("words", "where"),
    [
        (("timeline", "job.toml", "--hours", "noon"), "--hours"),
        (("timeline", "job.toml", "--hours", "8-8:10"), "--hours"),
        (("timeline", "job.toml", "--days", "someday"), "--days"),
        (("timeline", "job.toml", "--start", "2027-02-30"), "--start"),
        (("timeline", "job.toml", "--start", "2027-02-01", "--deadline", "2027-02-09"), "--deadline"),
        (("pick", "job.toml", "--on", "soon"), "--on"),
        (("record", "job.toml", "--outcome", "maybe"), "--outcome"),
        (("record", "job.toml"), "installation 1"),
        (("record", "job.toml", "--outcome", "absent.csv"), "absent.csv"),
        (("record", "job.toml", "--outcome", "pass", "--lots", "none-such"), "none-such"),
        (("record", "job.toml", "--outcome", "pass", "--lots", "A=much"), "--lots A"),
        (("record", "job.toml", "--outcome", "pass", "--reading", "mood=1"), "mood"),
        (("record", "job.toml", "--outcome", "pass", "--reading", "zero_return_ue=2.1"), "installation 1"),
        (("record", "job.toml", "--outcome", "pass", "--bench", "mood=1"), "--bench"),
        (("trace", "none-such"), "none-such"),
    ],
)
def test_bad_input_is_one_line_and_records_nothing(words: tuple[str, ...], where: str, lab: Path) -> None:
    said = run(*words)
    assert said.status == 2
    assert said.fault.startswith(where)
    assert "\n" not in said.fault
    assert not (lab / "ledger.sqlite3").exists()


def test_a_table_names_row_and_column_of_each_fault(lab: Path) -> None:
    (lab / "made.csv").write_text("installation,zero_return_ue,outcome\n1,0.5,pass\n2,9,pass\n3,x,fail\n")
    said = run("record", "job.toml", "--outcome", "made.csv")
    assert said.status == 2
    assert "row 3" in said.fault
    assert "at most 2" in said.fault
    assert "row 4" in said.fault
    assert not (lab / "ledger.sqlite3").exists()


@pytest.mark.usefixtures("lab")
def test_a_job_without_a_name_is_not_recorded(lab: Path) -> None:
    (lab / "job.toml").write_text(JOB.replace('name = "bracket"', ""))
    assert run("record", "job.toml", "--outcome", "pass").fault.startswith("job.name")


@pytest.mark.usefixtures("lab")
def test_a_dry_run_shows_and_records_nothing() -> None:
    words = ("record", "job.toml", "--outcome", "pass", "--installation", "1-2", "--at", "2027-03-02")
    assert "Not recorded (dry run)" in run(*words, "--dry-run").out
    assert run("trace", "job.toml", "--json").document["installations"] == []
    assert run(*words, "--json").document["yield"]["passed"] == 2
    assert run("trace", "bracket", "--json").document["passed"] == 2


@pytest.mark.usefixtures("lab")
def test_a_number_beyond_the_job_is_not_recorded() -> None:
    """Unless what failed calls for it; what is no number is let be."""
    attempts = run("estimate", "job.toml", "--json").document["installations"]["attempts"]
    words = ("record", "job.toml", "--at", "2027-03-02", "--outcome")
    refused = run(*words, "pass", "--installation", str(attempts + 1))
    assert refused.status == 2
    assert refused.fault.startswith(
        f"installation {attempts + 1}: is beyond this job: it has 3 gauges, {attempts} with"
    )
    assert run(*words, "pass", "--installation", "0").status == 2
    assert run(*words, "pass", "--installation", "spare").status == 0
    assert run(*words, "fail", "--note", "let go", "--installation", f"1-{attempts}").status == 0
    assert run(*words, "pass", "--installation", str(attempts + 3)).status == 0
    assert run(*words, "pass", "--installation", str(attempts + 4)).status == 2


@pytest.mark.usefixtures("lab")
def test_a_barred_lot_needs_a_reason() -> None:
    item = adhesive_of(run("plan", "job.toml", "--json").document)
    run("stock", "receive", item, "old", "20", "g", "--expires", "2027-01-31", "--at", "2026-12-01", "--storage-c", "5")
    words = ("record", "job.toml", "--outcome", "pass", "--lots", "old=1", "--at", "2027-03-02")
    refused = run(*words)
    assert refused.status == 1
    assert "expired" in refused.fault
    assert run(*words, "--anyway").status == 2
    assert run(*words, "--anyway", "--reason", "trial on scrap").status == 0


@pytest.mark.usefixtures("lab")
def test_what_is_recorded_again_draws_on_the_lots_that_it_did_not_have_before() -> None:
    item = adhesive_of(run("plan", "job.toml", "--json").document)
    for lot in ("one", "two"):
        run(
            "stock",
            "receive",
            item,
            lot,
            "20",
            "g",
            "--expires",
            "2028-01-01",
            "--at",
            "2027-03-01",
            "--storage-c",
            "5",
        )
    words = ("record", "job.toml", "--outcome", "pass", "--lots")
    assert "of one drawn down" in run(*words, "one").out
    again = (*words, "two", "--again", "--reason", "two was used, not one")
    assert "of two drawn down" in run(*again).out
    assert "drawn down" not in run(*again).out


@pytest.mark.usefixtures("lab")
def test_the_shelf_decides_between_chains_and_says_so() -> None:
    best = run("plan", "job.toml", "--json").document
    item = adhesive_of(best)
    other = next(
        adhesive_of({"chains": [chain]})
        for chain in run("plan", "job.toml", "--top", "200", "--json").document["chains"]
        if chain["items"]["adhesive"] != item
    )
    assert run("plan", "job.toml", "--stock", "--json").document["chains"] == best["chains"]
    run("stock", "receive", item, "old", "20", "g", "--expires", "2027-01-31", "--at", "2026-12-01", "--storage-c", "5")
    run("stock", "receive", other, "new", "20", "g", "--expires", "2027-12-31", "--at", "2026-12-01")
    found = run("plan", "job.toml", "--stock", "--json").document
    assert adhesive_of(found) == other
    assert any("lot old is expired" in note for note in found["notes"])
    rule = "Chains that can be made from what may be used on {} come first, then the others, each by points."
    assert rule.format("2027-03-01") in found["notes"]
    assert run("plan", "job.toml", "--prefer", "stock", "--json").document == found
    text = " ".join(run("plan", "job.toml", "--prefer", "stock").out.split())
    assert rule.format("2027-03-01") in text
    assert [chain["rank"] for chain in found["chains"]] == [1, 2, 3]
    # On a day when the first lot was good, nothing stands against the best chain.
    early = run("plan", "job.toml", "--stock", "--on", "2027-01-15", "--json").document
    assert adhesive_of(early) == item
    assert early["notes"] == [*best["notes"], rule.format("2027-01-15")]


@pytest.mark.usefixtures("lab")
def test_what_is_reserved_shows_and_is_let_go() -> None:
    needed = {line["item"]: line for line in run("estimate", "job.toml", "--json").document["lines"]}
    item = adhesive_of(run("plan", "job.toml", "--json").document)
    run("stock", "receive", item, "new", "20", "g", "--expires", "2027-12-31", "--at", "2027-01-01")
    run("pick", "job.toml", "--reserve")
    (lot,) = run("stock", "list", "--json").document["lots"]
    assert lot["reserved"] == pytest.approx(needed[item]["gross"])
    assert "kept for jobs" in run("stock", "list").out
    released = run("pick", "job.toml", "--release")
    assert released.out.startswith("No longer kept for 'bracket':")
    assert run("pick", "job.toml", "--release").out == "Nothing was kept for 'bracket'.\n"
    assert run("stock", "list", "--json").document["lots"][0]["reserved"] == 0


@pytest.mark.usefixtures("lab")
@pytest.mark.parametrize("words", [("pick", "job.toml"), ("estimate", "job.toml", "--order")])
def test_an_empty_shelf_is_to_be_acted_on(words: tuple[str, ...]) -> None:
    assert run(*words).status == run(*words, "--json").status == 1


@pytest.mark.usefixtures("lab")
def test_a_failure_says_why_and_a_part_is_traced() -> None:
    words = ("record", "job.toml", "--outcome", "fail", "--part", "board 7", "--reason", "lifted", "--at", "2027-03-02")
    assert run(*words).status == 0
    text = run("trace", "--part", "board 7").out
    assert "bracket, installation 1 on board 7: lifted" in text
    assert run("trace", "--who", "kim", "--since", "2027-03-02", "--json").document["failed"] == 1
    assert run("trace", "--until", "2027-03-01", "--json").document["installations"] == []
    assert run("trace").fault.startswith("trace: nothing is asked for")


@pytest.mark.usefixtures("lab")
def test_what_is_not_in_the_chain_is_refused_or_recorded_as_a_departure() -> None:
    items = run("plan", "job.toml", "--json").document["chains"][0]["items"]
    other = "limonene" if items["degreaser"] != "limonene" else "acetone"
    for item, lot in ((items["degreaser"], "right"), (other, "wrong")):
        run("stock", "receive", item, lot, "500", "mL", "--expires", "2028-01-01", "--at", "2027-03-01")
    wanted = ("record", "job.toml", "--outcome", "pass", "--lots", "right,wrong=2")
    said = run(*wanted)
    assert said.status == 2
    assert said.fault.startswith(f"wrong: holds {other}, which this job's chain doesn't have")
    assert run(*wanted, "--anyway").status == 2
    kept = run(*wanted, "--anyway", "--reason", "the other was empty", "--json").document
    assert kept["record"]["departures"] == [other]
    assert (kept["yield"]["passed"], kept["yield"]["failed"]) == (0, 0), "its yield learns nothing from that"
    (made,) = run("trace", "wrong", "--json").document["installations"]
    assert made["departures"] == [other]
    assert f"with {other}" in run("trace", "wrong").out


@pytest.mark.usefixtures("lab")
def test_plan_estimate_and_timeline_reckon_with_the_same_record() -> None:
    before = run("plan", "job.toml", "--json").document["chains"][0]
    for number in range(1, 7):
        run("record", "job.toml", "--outcome", "fail", "--installation", str(number), "--note", "let go")
    planned = run("plan", "job.toml", "--json").document["chains"][0]
    reckoned = run("estimate", "job.toml", "--json").document
    laid_out = run("timeline", "job.toml", "--json").document
    assert planned["items"] == before["items"]
    assert reckoned["installations"]["attempts"] > 3
    for name in ("ready_after_min", "batch_ready_after_min"):
        assert planned[name] == reckoned[name] == laid_out[name]
    assert planned["batch_ready_after_min"] > before["batch_ready_after_min"]
