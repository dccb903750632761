"""`plan` over many job files: each line as if it were alone, faults among them, and no process left behind."""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.cli import batch
from kb.cli.batch import Line, Planner, Progress, Terms
from kb.engine.plan import Engine
from tests.test_cli import run

PLANNED = '[part]\nsubstrate = "brass"\n[service]\ntemperature_c = [10, 60]\n'
NO_CHAIN = PLANNED.replace("60", "2900")
DESCRIBED = '[part]\nsubstrate = { like = "peek", name = "größer" }\n[service]\ntemperature_c = [10, 60]\n'
FILES = {
    "planned.toml": PLANNED,
    "none.toml": NO_CHAIN,
    "described.toml": DESCRIBED,
    "broken.toml": "[part\n",
    "unknown.toml": PLANNED.replace("brass", "qwxzv"),
    "wet.toml": f'{PLANNED}exposures = ["condensing"]\n',
}
LINUX = pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")


@pytest.fixture
def jobs(tmp_path: Path) -> list[str]:
    for name, text in FILES.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return [*FILES, "gone.toml"]


def compact(document: Any) -> str:
    return json.dumps(document, ensure_ascii=False, separators=(",", ":"))


def test_a_line_says_what_its_answer_hangs_on_where_that_is_asked(tmp_path: Path, engine: Engine) -> None:
    job = tmp_path / "planned.toml"
    job.write_text(PLANNED, encoding="utf-8")
    told = json.loads(Planner(Terms(hangs_on=True), engine).line(job).text)
    assert isinstance(told["hangs_on"], list)
    assert json.loads(Planner(Terms(), engine).line(job).text) == told | {"hangs_on": None}


def test_each_line_is_the_document_of_its_job_alone(
    jobs: list[str], engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done = run("plan", *jobs, "--json-lines", "--workers", "3", cwd=tmp_path, PYTHONHASHSEED="1")
    lines = done.stdout.split("\n")
    assert lines.pop() == ""
    assert len(lines) == len(jobs)
    faults = []
    monkeypatch.chdir(tmp_path)
    for job, line in zip(jobs, lines, strict=True):
        here = Planner(Terms(), engine).line(Path(job))
        assert here.text == f"{line}\n", job
        one = run("plan", job, "--json", cwd=tmp_path, PYTHONHASHSEED="2")
        assert one.returncode == here.status
        if one.stdout:
            # What an answer hangs on takes many plans: a line says it only where it is asked for.
            assert line == compact(json.loads(one.stdout) | {"hangs_on": None}), job
        else:
            document = json.loads(line)
            assert list(document) == ["schema", "where", "what", "mend", "job"]
            assert (document["schema"], document["job"]) == ("tackroom.fault/1", job)
            assert one.stderr == f"{document['where']}: {document['what']}; {document['mend']}\n"
            faults.append(one.stderr)
    assert len(faults) == 3
    assert done.stderr == "".join(faults)
    assert done.returncode == 2


@pytest.mark.parametrize(
    ("names", "status"),
    [
        (["planned.toml"], 0),
        (["planned.toml", "wet.toml"], 0),
        (["none.toml", "planned.toml"], 3),
        (["none.toml", "broken.toml", "planned.toml"], 2),
    ],
)
def test_bad_input_wins_over_no_chain_over_an_answer(
    names: list[str], status: int, jobs: list[str], tmp_path: Path
) -> None:
    assert set(names) <= set(jobs)
    assert run("plan", *names, "--json-lines", cwd=tmp_path).returncode == status


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["planned.toml", "wet.toml"], "plan: 2 job files are given; add --json-lines, or plan one at a time"),
        (["planned.toml", "wet.toml", "--json"], "plan: 2 job files are given"),
        (["planned.toml", "--json", "--json-lines"], "--json-lines: is for job files, and stands for --json"),
        (["planned.toml", "--workers", "2"], "--workers: is for many job files; add --json-lines"),
        (["planned.toml", "--json-lines", "--workers", "0"], "Invalid value for '--workers'"),
        (["planned.toml", "wet.toml", "--json-lines", "--prefer", "luck"], "--prefer: 'luck' is not a preference"),
        (["planned.toml", "--substrate", "brass"], "give either a job file or --substrate"),
        (["--substrate", "brass", "--temperature", "1", "2", "--json-lines"], "--json-lines: is for job files"),
    ],
)
def test_what_is_wrong_for_all_is_said_once(words: list[str], said: str, jobs: list[str], tmp_path: Path) -> None:
    assert jobs
    done = run("plan", *words, cwd=tmp_path)
    assert done.returncode == 2
    assert said in done.stderr
    assert done.stderr.count("\n") == 1
    assert done.stdout == ""


class Started:
    """A batch under way in a process group of its own: of many jobs that all are planned, by two processes."""

    def __init__(self, folder: Path, stdout: Any = subprocess.PIPE) -> None:
        (folder / "job.toml").write_text(PLANNED)
        words = [sys.executable, "-m", "kb", "plan", *["job.toml"] * 2000, "--json-lines", "--workers", "2"]
        # What runs in the background of a shell is deaf to Ctrl-C, and so would be all that it starts.
        heard = signal.signal(signal.SIGINT, signal.default_int_handler)
        try:
            self.process = subprocess.Popen(
                words,
                cwd=folder,
                stdout=stdout,
                stderr=subprocess.PIPE,
                text=True,
                start_new_session=True,
                env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
            )
        finally:
            signal.signal(signal.SIGINT, heard)

    def first_line(self) -> None:
        assert self.process.stdout is not None
        assert json.loads(self.process.stdout.readline())["outcome"] == "planned"

    def left(self) -> list[int]:
        """Those of its processes that still live."""
        found = []
        for stat in Path("/proc").glob("[0-9]*/stat"):
            try:
                state, _, group = stat.read_text().rpartition(")")[2].split()[:3]
            except OSError:
                continue
            if int(group) == self.process.pid and state != "Z":
                found.append(int(stat.parent.name))
        return found

    def ended(self) -> bool:
        """Whether all of them are gone within five seconds."""
        for _ in range(100):
            if not self.left():
                return True
            time.sleep(0.05)
        return False


@pytest.fixture
def started(tmp_path: Path) -> Iterator[Started]:
    it = Started(tmp_path)
    try:
        it.first_line()
        assert len(it.left()) == 3
        yield it
    finally:
        if it.left():
            os.killpg(it.process.pid, signal.SIGKILL)
        it.process.communicate()


@LINUX
def test_ctrl_c_ends_all_of_it(started: Started) -> None:
    os.killpg(started.process.pid, signal.SIGINT)
    _, said = started.process.communicate(timeout=10)
    assert started.process.returncode == 130
    assert said.startswith("stopped: ")
    assert said.count("\n") == 1
    assert started.ended()


@LINUX
def test_what_works_for_a_batch_never_hears_ctrl_c(started: Started) -> None:
    for worker in set(started.left()) - {started.process.pid}:
        status = Path(f"/proc/{worker}/status").read_text()
        (blocked,) = [line.split()[1] for line in status.splitlines() if line.startswith("SigBlk:")]
        assert int(blocked, 16) & 1 << (signal.SIGINT - 1)


@LINUX
def test_a_reader_who_goes_away_ends_all_of_it(started: Started) -> None:
    assert started.process.stdout is not None
    started.process.stdout.close()
    assert started.process.wait(timeout=10) == 0
    assert started.process.stderr is not None
    assert started.process.stderr.read() == ""
    assert started.ended()


@LINUX
def test_workers_do_not_outlive_what_started_them(started: Started) -> None:
    started.process.kill()
    started.process.wait(timeout=10)
    assert started.ended()


@LINUX
def test_a_full_disk_is_one_line(tmp_path: Path) -> None:
    with Path("/dev/full").open("w") as full:
        it = Started(tmp_path, full)
        _, said = it.process.communicate(timeout=60)
    assert it.process.returncode == 2
    assert said == "standard output: can't be written: No space left on device; make room, or write elsewhere\n"
    assert it.ended()


@LINUX
def test_a_worker_that_is_ended_from_outside_is_said(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Planner, "line", lambda *_: os._exit(9))
    with pytest.raises(BadInput, match="--workers: a process that was planning ended from outside"):
        list(batch.lines([Path("a")] * 8, Planner(Terms(), engine), 2))


def test_no_more_is_begun_than_a_few_ahead_of_what_was_handed_on() -> None:
    class Done:
        def result(self) -> str:
            return "line"

    class Pool:
        begun = 0

        def submit(self, *_: Any) -> Done:
            self.begun += 1
            return Done()

    pool: Any = Pool()
    handed = 0
    for _ in batch._in_order(pool, [Path("a")] * 50, 8):
        assert pool.begun - handed <= 8
        handed += 1
    assert handed == 50


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_progress_on_a_terminal_is_one_line_that_is_written_over() -> None:
    to = Terminal()
    progress = Progress(3, to)
    for line in (Line("", 0), Line("", 2, "a.toml: is bad"), Line("", 3)):
        progress.add(line)
    progress.end()
    shown = [piece.rstrip() for piece in to.getvalue().replace("\n", "\n\r").split("\r")]
    assert shown == [
        "1 of 3 jobs", "a.toml: is bad", "2 of 3 jobs, 1 at fault",
        "3 of 3 jobs, 1 with no chain, 1 at fault", "3 of 3 jobs, 1 with no chain, 1 at fault", "",
    ]  # fmt: skip
    assert "\ra.toml: is bad\n" in to.getvalue()


def test_what_is_shorter_covers_what_a_terminal_still_shows() -> None:
    to = Terminal()
    progress = Progress(1, to)
    progress.add(Line("", 3))
    progress.add(Line("", 2, "short"))
    assert f"\r{'short':<28}\n" in to.getvalue()


def test_progress_elsewhere_is_a_line_in_a_hundred() -> None:
    for jobs, said in ((99, []), (250, ["100 of 250 jobs", "200 of 250 jobs", "250 of 250 jobs"])):
        to = io.StringIO()
        progress = Progress(jobs, to)
        for _ in range(jobs):
            progress.add(Line("", 0))
        progress.end()
        assert to.getvalue().splitlines() == said
