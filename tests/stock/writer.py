"""A program that writes events and says on standard output what was acknowledged: for tests to kill or to run in
numbers.

    python -m tests.stock.writer WORKSPACE NAME COUNT [BATCH]

Each write is one event; with BATCH every fifth write is a batch of that many, all of the same reason.
"""

from __future__ import annotations

import sys
from pathlib import Path

from kb.stock.admission import record
from kb.stock.log.tinystore import TinyStore
from tests.stock.factory import received


def main(workspace: str, name: str, count: str, batch: str = "0") -> None:
    store = TinyStore(Path(workspace), wait_s=120)
    for number in range(int(count)):
        mark = f"{name}-{number}"
        many = int(batch) if number % 5 == 4 else 0
        drafts = [received(f"{mark}-{row}", reason=mark) for row in range(many)] or [received(mark, reason=mark)]
        sys.stdout.write("".join(f"{event['id']} {event['lot']}\n" for event in record(store, drafts)))
        sys.stdout.flush()


if __name__ == "__main__":
    main(*sys.argv[1:])
