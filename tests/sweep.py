"""Long sweeps over seeds: a part of them in every run, all of them where TACKROOM_SWEEP is set in the environment."""

from __future__ import annotations

import os


def swept(seeds: range, part: int) -> range:
    """Give every `part`-th of the seeds, or all of them where the environment asks for it.

    >>> len(swept(range(40), 1))
    40
    """
    return seeds if os.environ.get("TACKROOM_SWEEP") else seeds[::part]
