"""Say which small changes of modules no test notices: `python -m tests.mutate MODULE ... [--most N]`.

Comparisons, limits, and/or, not, returned values, reckoning, arguments and statements are changed one at a time, on a
copy of the checkout, and the tests that serve the module (tests/mirror.py) are run on each. A change that lives is a
test that is missing, a line that isn't needed, or a change that means the same: look which.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from tests.mirror import ROOT, path_of, serving
from tests.mutate.changes import Change, changes
from tests.mutate.trial import TestsFail, try_changes


def spread(found: list[Change], most: int) -> list[Change]:
    """At most so many of the changes, spread evenly over the module."""
    return found if len(found) <= most else [found[number * len(found) // most] for number in range(most)]


def main(words: list[str], root: Path = ROOT) -> int:
    """Try the changes of each module; 1 if any lives, 2 if a module can't be tried."""
    options = argparse.ArgumentParser(prog="python -m tests.mutate", description=__doc__)
    options.add_argument("modules", nargs="+", metavar="MODULE", help="kb/stock/warmup.py or kb.stock.warmup")
    options.add_argument("--most", type=int, default=60, help="changes of a module, spread over its lines (60)")
    options.add_argument("--minutes", type=float, default=10, help="for each module (10)")
    options.add_argument("--at-once", type=int, default=os.cpu_count() or 1, help="copies that work side by side")
    options.add_argument("--tests", nargs="+", help="run these tests instead of those that serve the module")
    given = options.parse_args(words)
    status = 0
    for module in map(path_of, given.modules):
        if not (root / module).is_file():
            print(f"{module}: is not there; name a module of kb", file=sys.stderr)
            return 2
        tests = tuple(given.tests or serving(module, root))
        picked = spread(changes((root / module).read_text(encoding="utf-8")), given.most)
        try:
            outcome = try_changes(
                root,
                module,
                tests,
                picked,
                seconds=given.minutes * 60,
                at_once=given.at_once,
                tell=lambda line: print(line, file=sys.stderr, flush=True),
            )
        except TestsFail as fault:
            print(fault, file=sys.stderr)
            return 2
        rest = f", {outcome.left} not tried (time was up)" if outcome.left else ""
        print(f"{module}: {outcome.tried} changes, {len(outcome.live)} live{rest} [{', '.join(tests)}]")
        for change in outcome.live:
            print(f"  {module}:{change}", flush=True)
        status = max(status, 1 if outcome.live else 0)
    return status


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
