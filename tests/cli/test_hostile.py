"""Whatever a shell, an environment or a file system hands over: one line on standard error, and never a traceback."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import pytest

from kb.cli import main
from tests.stock.factory import events, received, record

ROOT = Path(__file__).parents[2]


@pytest.fixture
def lab(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A workspace with one lot, which commands of this test work on."""
    folder = tmp_path / "lab"
    record(folder, [received("A", "5")])
    monkeypatch.setenv("TACKROOM_WORKSPACE", str(folder))
    monkeypatch.setenv("TACKROOM_WHO", "kim")
    monkeypatch.setenv("TACKROOM_TODAY", "2027-06-01")
    monkeypatch.chdir(tmp_path)
    return folder


# -- any byte in any argument

PLACES: list[tuple[str, ...]] = [
    ("stock", "history", "{}"),
    ("stock", "receive", "{}", "L", "5", "mL"),
    ("stock", "receive", "acetone", "{}", "5", "mL"),
    ("stock", "receive", "acetone", "L", "{}", "mL"),
    ("stock", "receive", "acetone", "L", "5", "{}"),
    ("stock", "use", "A", "1", "mL", "--at", "{}"),
    ("stock", "use", "A", "1", "mL", "--reason", "{}", "--dry-run"),
    ("stock", "use", "A", "1", "mL", "--who", "{}", "--dry-run"),
    ("stock", "list", "--workspace", "{}"),
    ("stock", "list", "--on", "{}"),
    ("stock", "hold", "A", "--reason", "{}", "--dry-run"),
    ("stock", "rename", "A", "{}", "--dry-run"),
    ("stock", "undo", "{}"),
    ("stock", "import", "{}"),
    ("stock", "scan", "{}"),
    ("stock", "{}"),
    ("{}",),
    ("call", "{}", "acetone", "--dry-run"),
    ("record", "{}"),
    ("trace", "{}"),
    ("trace", "--part", "{}"),
    ("plan", "{}"),
]
SNIPPETS = [
    b"\xff", b"\x80", b"\xc3", b"\xed\xa0\x80", b"\x1b[31m", b"\n", b"\r\n", b"\t", b"\x7f", b"\x01", b"", b" ", b"-",
    b"--", b"=", b"\xe2\x80\xae", b"\xef\xbb\xbf", b"\xf0\x9f\x92\xa9", b"%s", b"{}", b"../..", b"/dev/null/x",
    b"x" * 5000, b"\xd9\xa3", b"1e999", b"nan", b"-1", b"9" * 400,
]  # fmt: skip


@pytest.mark.parametrize("place", PLACES, ids=" ".join)
def test_any_bytes_in_any_argument_are_one_line(
    lab: Path, place: Sequence[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    dice = random.Random(" ".join(place))
    for snippet in [*SNIPPETS, *(bytes([byte]) for byte in dice.sample(range(1, 256), 12))]:
        words = [os.fsdecode(snippet) if word == "{}" else word for word in place]
        monkeypatch.setattr(sys, "argv", ["tackroom", *words])
        before = events(lab)
        with pytest.raises(SystemExit) as ended:
            main()
        said = capsys.readouterr()
        assert ended.value.code in (0, 1, 2, 3), (snippet, said.err)
        if ended.value.code == 2:
            assert said.err[-1:] == "\n", (snippet, said.err)
            assert said.err[:-1].isprintable(), (snippet, said.err)
            assert events(lab) == before, snippet


# -- files that are none, and files without end


def _pipe(folder: Path) -> str:
    os.mkfifo(folder / "pipe")
    return str(folder / "pipe")


def _gigabyte(folder: Path) -> str:
    with (folder / "big.csv").open("wb") as file:
        file.truncate(1_000_000_000)
    return str(folder / "big.csv")


FILES: dict[str, Callable[[Path], str]] = {
    "a pipe": _pipe,
    "/dev/zero": lambda _: "/dev/zero",
    "/dev/stdin": lambda _: "/dev/stdin",
    "a gigabyte": _gigabyte,
    "a folder": str,
    "under a file": lambda folder: str(folder / "lab" / "ledger.sqlite3" / "x"),
}
READERS: list[tuple[str, ...]] = [
    ("plan", "{}"),
    ("record", "JOB", "--from", "{}"),
    ("stock", "import", "{}"),
    ("stock", "products", "{}"),
    ("stock", "temperatures", "{}", "--location", "cabinet"),
    ("stock", "restore", "{}", "--workspace", "other"),
]


@pytest.mark.parametrize("place", READERS, ids=" ".join)
@pytest.mark.parametrize("make", FILES.values(), ids=FILES)
def test_a_file_without_end_is_refused_before_it_is_read(
    lab: Path,  # noqa: ARG001
    tmp_path: Path,
    place: Sequence[str],
    make: Callable[[Path], str],
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    (tmp_path / "job.toml").write_text('[part]\nsubstrate = "brass"\n[service]\ntemperature_c = [10, 60]\n')
    named = make(tmp_path)
    words = [{"{}": named, "JOB": str(tmp_path / "job.toml")}.get(word, word) for word in place]
    monkeypatch.setattr(sys, "argv", ["tackroom", *words])
    with pytest.raises(SystemExit) as ended:
        main()
    said = capsys.readouterr().err
    assert (ended.value.code, said.count("\n")) in ((2, 1), (4, 1)), said


# -- whole programs: what they are started with


def start(*words: str, shell: str = "", environment: Mapping[str, str | None] = {}) -> subprocess.CompletedProcess[str]:
    """Run the program as a shell does, with its redirections; a variable that is None isn't set."""
    known = {**os.environ, "PYTHONPATH": str(ROOT), **environment}
    line = 'exec "$0" -m kb "$@" ' + shell
    return subprocess.run(
        ["sh", "-c", line, sys.executable, *words],
        env={name: value for name, value in known.items() if value is not None},
        capture_output=True,
        text=True,
        errors="replace",
        check=False,
    )


@pytest.mark.usefixtures("lab")
@pytest.mark.parametrize("words", [("stock", "list"), ("stock", "list", "--json"), ("--help",), ("stock", "--help")])
@pytest.mark.parametrize("shell", [">/dev/full", ">&-", ">&- 2>&-", "<&-", "| head -c 1 >/dev/null"])
def test_an_output_that_is_full_or_closed_is_one_line(words: Sequence[str], shell: str) -> None:
    done = start(*words, shell=shell)
    assert "Traceback" not in done.stderr
    assert done.stderr.count("\n") <= 1
    if shell.startswith(">") and not (words[-1] == "--help" and "&-" in shell):
        assert done.returncode == 2, done


@pytest.mark.parametrize("shell", [">/dev/full", ">&-"])
def test_a_recording_whose_answer_is_lost_says_that_it_was_recorded(lab: Path, shell: str) -> None:
    done = start("stock", "use", "A", "1", "mL", shell=shell)
    assert done.returncode == 2
    assert "it was recorded" in done.stderr
    assert [event["type"] for event in events(lab)] == ["received", "used"]


ENVIRONMENTS: dict[str, dict[str, str | None]] = {
    "nothing of it": dict.fromkeys(os.environ) | {"PATH": os.environ["PATH"]},
    "no home": {"HOME": None, "XDG_CACHE_HOME": None, "TACKROOM_CACHE": None},
    "a home that is none": {"HOME": "/dev/null/none", "XDG_CACHE_HOME": None, "TACKROOM_CACHE": None},
    "a cache in a file": {"TACKROOM_CACHE": "/dev/null"},
    "old encodings": {"LC_ALL": "C", "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"},
    "a wrong encoding": {"PYTHONIOENCODING": "latin-1:strict"},
    "bytes as who": {"TACKROOM_WHO": "\udcff"},
    "bytes as workspace": {"TACKROOM_WORKSPACE": "/tmp/\udcff"},
    "bytes as today": {"TACKROOM_TODAY": "\udcff"},
    "no day as today": {"TACKROOM_TODAY": "tomorrow"},
    "an empty who": {"TACKROOM_WHO": ""},
    "a narrow terminal": {"COLUMNS": "1", "TERM": "dumb"},
}


@pytest.mark.parametrize("environment", ENVIRONMENTS.values(), ids=ENVIRONMENTS)
def test_any_environment(lab: Path, environment: dict[str, str | None]) -> None:
    given = {"TACKROOM_WORKSPACE": str(lab), **environment}
    for words in (("stock", "flag", "--on", "2027-03-02"), ("stock", "use", "A", "1", "mL", "--dry-run")):
        done = start(*words, environment=given)
        assert "Traceback" not in done.stderr, done
        assert done.returncode in (0, 1, 2), done
        assert done.stderr.count("\n") <= 1, done


def test_what_only_the_terminal_cannot_show_is_shown_in_its_stead(lab: Path) -> None:
    record(lab, [received("Ü-1", location="Kühlschrank")])
    done = start("stock", "list", "--json", environment=ENVIRONMENTS["old encodings"])
    assert [lot["lot"] for lot in json.loads(done.stdout)["lots"]] == ["A", "Ü-1"]
