"""System calls that fail, one after the other, in each thing that a lab does: what was refused isn't there.

`strace` lets the n-th call of a kind fail in a fork of this program, with each error that it may bring; once, or from
then on for good. It is done for every n until the act makes no more such calls.
"""

from __future__ import annotations

import mmap
import os
import random
import shutil
import subprocess
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from unittest.mock import patch

from kb.base import disk
from kb.base.errors import TackroomError
from kb.stock.stores import sqlite
from tests.stock.ordeal.acts import ACTS, begun, counts, faults_of, warm

#: What may be refused, with the errors that it may be refused with.
CALLS = {
    "openat": ("EMFILE", "EACCES", "EIO"),
    "pwrite64": ("ENOSPC", "EIO"),
    "write": ("ENOSPC", "EIO"),
    "pread64": ("EIO",),
    "read": ("EIO",),
    "fsync": ("EIO", "ENOSPC"),
    "fdatasync": ("EIO", "ENOSPC"),
    "ftruncate": ("EIO", "ENOSPC"),
    "unlink": ("EACCES", "EIO"),
    "link": ("EPERM", "ENOSPC"),
    "rename": ("ENOSPC", "EIO"),
    "fcntl": ("ENOLCK", "EAGAIN"),
    "fchmod": ("EPERM",),
    "chmod": ("EPERM",),
    "mkdir": ("ENOSPC",),
    "newfstatat": ("EIO", "EACCES"),
    "fstat": ("EIO",),
    "lseek": ("EIO",),
    "fallocate": ("ENOSPC",),
}
_LONGEST = 4000
#: A lock that is refused for good is waited for in each of its calls, by the clock and by counting naps: the one is
#: brief here and the others are left out, or the ordeal takes hours.
_WAIT_S = 0.1
_NAPS = "clock_nanosleep,nanosleep"


@cache
def why_not() -> str:
    """Why it can't be done here; "" where it can."""
    if shutil.which("strace") is None:
        return "strace is not installed"
    done = subprocess.run(["strace", "-e", "trace=none", "true"], capture_output=True, check=False)
    return "" if done.returncode == 0 else "this system does not let one program trace another"


def run(count: int = 0, seed: int = 1) -> Counter[str]:
    """Let calls fail: `count` of them by chance, or each; counts what became of the acts."""
    with patch.object(sqlite, "WAIT_S", _WAIT_S), patch.object(disk, "WAIT_S", _WAIT_S):
        return _run(count, seed)


def _run(count: int, seed: int) -> Counter[str]:
    warm()
    found: Counter[str] = Counter()
    with tempfile.TemporaryDirectory(prefix="faults-") as name:
        folder = Path(name)
        begun(folder / "begun")
        (folder / "none").mkdir()
        if count:
            dice = random.Random(seed)
            while found["calls failed"] < count:
                call = dice.choice(list(CALLS))
                start = "none" if dice.random() < 0.15 else "begun"
                act = "receive" if start == "none" else dice.choice(list(ACTS))
                error, forever = dice.choice(CALLS[call]), dice.random() < 0.5
                _one(folder, start, act, call, error, 1 + int(dice.expovariate(1 / 15)), forever, found)
            return found
        starts = [("begun", act) for act in ACTS] + [("none", "receive")]
        for done, (start, act) in enumerate(starts, 1):
            for call, error, forever in _kinds():
                number = 1
                while _one(folder, start, act, call, error, number, forever, found):
                    number += 1
            print(
                f"  {act} from {start}: {done} of {len(starts)} acts, {found['calls failed']} calls failed", flush=True
            )
    return found


def _kinds() -> Iterator[tuple[str, str, bool]]:
    for call, errors in CALLS.items():
        for error in errors:
            yield from ((call, error, False), (call, error, True))


def _one(
    folder: Path, start: str, act: str, call: str, error: str, number: int, forever: bool, found: Counter[str]
) -> bool:
    """Let one call fail in one act; whether the act came so far."""
    workspace = folder / "lab"
    shutil.rmtree(workspace, ignore_errors=True)
    shutil.copytree(folder / start, workspace)
    what = f"{act} from {start}, {call} {number}{'+' if forever else ''} {error}"
    said, failed = _traced(workspace, act, f"{call}:error={error}:when={number}{'+' if forever else ''}")
    assert said.startswith(("done", "refused")), f"{what}: {said}"
    try:
        there, problems = counts(workspace)(act, "mark"), faults_of(workspace)
    except TackroomError as fault:
        raise AssertionError(f"{what}: {said}: {fault}") from None
    if said == "done":
        assert there == 1, f"{what}: acknowledged, and there {there} times"
    elif "may have been" in said:
        assert there in (0, 1), f"{what}: {said}: there in part"
    else:
        assert there == 0, f"{what}: {said}: refused, and there {there} times"
    assert problems == [], what
    begun(workspace)
    ACTS[act](workspace, "afterwards")
    if failed:
        found["calls failed"] += 1
        found[said.partition(" ")[0] if "may have been" not in said else "in doubt"] += 1
    return failed


def _traced(workspace: Path, act: str, fault: str) -> tuple[str, bool]:
    """What came of an act in a program whose call fails, and whether it made that call."""
    shared = mmap.mmap(-1, _LONGEST)
    child = os.fork()
    if child == 0:  # pragma: no cover
        try:
            while not shared[-1]:  # sleeping is no call that fails
                time.sleep(0.0005)
            shared[:-1] = _outcome(workspace, act).encode("utf-8", "replace")[: _LONGEST - 1].ljust(_LONGEST - 1, b"\0")
        finally:
            os._exit(0)
    log = workspace.parent / "strace.log"
    call = fault.partition(":")[0]
    words = ["strace", "-p", str(child), "-o", str(log), "-e", f"trace={call},{_NAPS}"]
    words += ["-e", f"inject={fault}", "-e", f"inject={_NAPS}:retval=0"]
    tracer = subprocess.Popen(words, stderr=subprocess.PIPE, text=True)
    assert tracer.stderr is not None
    heard = tracer.stderr.readline()
    assert "attached" in heard, heard
    shared[-1] = 1
    os.waitpid(child, 0)
    heard += tracer.stderr.read()
    assert tracer.wait() == 0, heard
    said = shared[:-1].rstrip(b"\0").decode() or "ended without a word"
    lines = log.read_text(errors="replace").splitlines()
    return said, any(line.startswith(f"{call}(") and line.endswith("(INJECTED)") for line in lines)


def _outcome(workspace: Path, act: str) -> str:  # pragma: no cover
    try:
        ACTS[act](workspace, "mark")
    except TackroomError as fault:
        return f"refused {fault}"
    except BaseException as fault:
        import traceback

        return f"crash {fault!r} {''.join(traceback.format_exc())[-1500:]}"
    return "done"
