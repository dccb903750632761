"""Try the changes of a module on copies of the checkout, each with the tests that serve the module."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue

from tests.mutate.changes import Change

#: What a copy does without.
LEFT_OUT = shutil.ignore_patterns(".git", ".venv*", "__pycache__", ".*_cache", ".hypothesis", ".benchmarks", "dist")
#: A change that makes the tests take so many times as long, and so many seconds more, was noticed.
SLOWER, LONGER_S = 4, 20.0


class TestsFail(Exception):
    """The tests fail on the module as it is, so that they can tell nothing of a change."""

    __test__ = False


@dataclass(frozen=True)
class Outcome:
    """What came of the changes of one module."""

    tried: int
    live: tuple[Change, ...]
    #: Not tried since time was up.
    left: int


def try_changes(
    root: Path,
    module: str,
    tests: Sequence[str],
    changes: Sequence[Change],
    *,
    seconds: float,
    at_once: int = 1,
    tell: Callable[[str], None] = lambda _: None,
) -> Outcome:
    """Try `changes` in their order until `seconds` have passed; those that no test notices live."""
    begun = time.monotonic()
    with copies(root, at_once) as places:
        limit = _seconds_of(places[0], module, tests) * SLOWER + LONGER_S
        free: SimpleQueue[Path] = SimpleQueue()
        for place in places:
            free.put(place)

        def noticed(numbered: tuple[int, Change]) -> bool | None:
            number, change = numbered
            if time.monotonic() - begun > seconds:
                return None
            place = free.get()
            try:
                _write(place / module, change.source, number)
                seen = not _pass(place, module, tests, limit)
            finally:
                free.put(place)
            tell(f"{number + 1} of {len(changes)}: {'noticed' if seen else 'LIVES'}: {module}:{change}")
            return seen

        with ThreadPoolExecutor(at_once) as threads:
            seen = list(threads.map(noticed, enumerate(changes)))
    live = tuple(change for change, one in zip(changes, seen, strict=True) if one is False)
    return Outcome(len(seen) - seen.count(None), live, seen.count(None))


@contextmanager
def copies(root: Path, many: int) -> Iterator[list[Path]]:
    """So many copies of the checkout, gone afterwards: nothing is ever changed in the checkout itself."""
    with tempfile.TemporaryDirectory(prefix="tackroom-mutate-") as folder:
        places = [Path(folder) / str(number) / "checkout" for number in range(many)]
        for place in places:
            shutil.copytree(root, place, ignore=LEFT_OUT)
        yield places


def _write(path: Path, source: str, number: int) -> None:
    """Write a changed module with a time of its own, so that no compiled form of another is taken for its own."""
    path.write_text(source, encoding="utf-8")
    os.utime(path, (1_000_000_000 + number, 1_000_000_000 + number))


def _seconds_of(place: Path, module: str, tests: Sequence[str]) -> float:
    """How long the tests take on the module as it is: the second time, with all modules compiled."""
    for _ in range(2):
        begun = time.monotonic()
        if not _pass(place, module, tests, None):
            raise TestsFail(f"{', '.join(tests)}: fail on {module} as it is; mend that first")
    return time.monotonic() - begun


def _pass(place: Path, module: str, tests: Sequence[str], limit: float | None) -> bool:
    """Whether the tests pass in a copy, the module's own doctests among them."""
    options = ["-x", "-q", "-p", "no:cacheprovider", "-p", "_hypothesis_pytestplugin", "--hypothesis-seed=0"]
    try:
        done = subprocess.run(
            [sys.executable, "-m", "pytest", *options, module, *tests],
            cwd=place,
            # Other plugins take a second to import, which here is most of the time.
            env={**os.environ, "PYTHONPATH": str(place), "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=limit,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return False
    return done.returncode == 0
