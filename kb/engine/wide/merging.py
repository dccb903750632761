"""A relaxed layer: states are merged, so that every chain is still there, and some that aren't allowed may be."""

from __future__ import annotations

#: States by the least milliseconds that lead to them.
States = dict[int, int]


def relaxed(reached: States, room: int) -> tuple[States, dict[int, int]]:
    """Keep at most `room` states; the rest are merged into one, reached as fast as any of them.

    With them, the state into which each of the rest was merged: only constraints that all of them met are met there.
    """
    if len(reached) <= room:
        return reached, {}
    ordered = sorted(reached, key=lambda state: (state.bit_count(), state))
    kept, rest = ordered[: room - 1], ordered[room - 1 :]
    common = rest[0]
    for state in rest:
        common &= state
    narrowed = {state: reached[state] for state in kept}
    narrowed[common] = min(min(reached[state] for state in rest), narrowed.get(common, reached[rest[0]]))
    return narrowed, dict.fromkeys(rest, common)
