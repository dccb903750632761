"""The whole ordeal, or one part of it, in numbers."""

from __future__ import annotations

import argparse
import time
from collections import Counter
from collections.abc import Callable


def main() -> None:
    """Run what the command line asks for; what doesn't hold ends it with the place where it doesn't."""
    from tests.stock.ordeal import damage, faults, kills, power, shared, simulation

    parts: dict[str, tuple[Callable[[int, int], Counter[str]], int, str]] = {
        "kills": (kills.run, 10_000, "programs killed while they work"),
        "faults": (faults.run, 0, "system calls that fail; 0: each of them"),
        "power": (power.run, 20_000, "disks as a power cut may leave them"),
        "damage": (damage.run, 0, "cuts and flips; 0: every byte and bit"),
        "benches": (shared.benches, 500, "operations of each of 8 benches on one PostgreSQL ledger, by two servers"),
        "shared-kills": (shared.killed, 1_000, "programs killed that write it, and now and then the database server"),
        "steps": (simulation.run, 100_000, "steps of a long life beside a plain model"),
    }
    parser = argparse.ArgumentParser(prog="python -m tests.stock.ordeal", description=__doc__)
    parser.add_argument("--seed", type=int, default=int(time.time()))
    for name, (_, usual, words) in parts.items():
        parser.add_argument(f"--{name}", type=int, nargs="?", const=usual, metavar="COUNT", help=f"{words} ({usual})")
    given = {name.replace("_", "-"): value for name, value in vars(parser.parse_args()).items()}
    asked = {name: given[name] for name in parts if given[name] is not None} or {n: p[1] for n, p in parts.items()}
    print(f"seed {given['seed']}")
    for name, count in asked.items():
        begun = time.monotonic()
        found = parts[name][0](count, given["seed"])
        said = ", ".join(f"{number} {what}" for what, number in found.items())
        print(f"{name}: {said}; none failed ({time.monotonic() - begun:.0f} s)", flush=True)


if __name__ == "__main__":
    main()
