"""The answer to `pick`: what to take from which lot, what is short, and what to order."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from kb.report.estimate import figure
from kb.report.text import counted, wrapped
from kb.stock.amounts import text
from kb.work.picking import Picked, PickLine

_AMOUNTS = (
    "Each amount is what the work is reckoned to take, losses included; 'bring' is what covers it with the job's "
    "confidence, as `estimate` says it. What is to be bought for that: `estimate --order`."
)


def pick_json(found: Picked) -> dict[str, Any]:
    """Give `tackroom.pick/1`."""
    return {
        "schema": "tackroom.pick/1",
        "on": found.on,
        "lines": [
            {
                "item": line.need.item,
                "needed": float(line.need.amount),
                "bring": None if line.need.bring is None else float(line.need.bring),
                "unit": line.need.unit,
                "from": [
                    {
                        "lot": take.lot,
                        "quantity": float(take.quantity),
                        "usable_until": take.usable_until,
                        "location": take.location or None,
                        "ends_before_the_work": take.ends,
                    }
                    for take in line.takes
                ],
                "short": float(line.short),
                "reorder_packs": line.reorder_packs,
                "passed_over": [one._asdict() for one in line.passed_over],
            }
            for line in found.lines
        ],
    }


def pick_text(found: Picked) -> str:
    """Tell what is short, then a list to walk the shelves with."""
    lines = [f"To pick for {found.on}, first expired first out:"]
    short = [line for line in found.lines if line.short]
    lines.append(f"SHORT of {counted(len(short), 'item')}:" if short else "Everything is there.")
    lines += [f"  {line.need.item}: {_short(line)}" for line in short]
    lines += ["", wrapped(_AMOUNTS, "")]
    for line in found.lines:
        lines.append(f"  {line.need.item}: {told(line.need.amount)} {line.need.unit}{_bring(line)}")
        for take in line.takes:
            where = f", {take.location}" if take.location else ""
            late = ": use it first" if take.ends else ""
            until = f"usable until {take.usable_until}" if take.usable_until else "no last day known"
            lines.append(f"    [ ] {told(take.quantity)} {line.need.unit} of {take.lot} ({until}{late}){where}")
        lines += [f"    not {one.lot}: {one.reason}" for one in line.passed_over]
        lines += [f"    SHORT: {_short(line)}"] if line.short else []
    return "".join(f"{line}\n" for line in lines)


def told(amount: Decimal) -> str:
    """Give an amount as it is measured out; `--json` and what is reserved have all of its digits."""
    return figure(float(amount))


def _bring(line: PickLine) -> str:
    """Tell what to bring, where that is more than the work is reckoned to take."""
    bring = line.need.bring
    return f" (bring {told(bring)})" if bring is not None and bring > line.need.amount else ""


def released_text(job: str, before: Mapping[str, tuple[Decimal, str]]) -> str:
    """Tell what a job had kept for itself, and has let go."""
    if not before:
        return f"Nothing was kept for '{job}'.\n"
    return f"No longer kept for '{job}':\n" + "".join(
        f"  {text(amount)} {unit} of {lot}\n" for lot, (amount, unit) in before.items()
    )


def _short(line: PickLine) -> str:
    packs, size, unit = line.reorder_packs, line.need.pack_size, line.need.unit
    order = f"; order {packs} pack{'s' if packs != 1 else ''} of {text(size)} {unit}" if packs and size else ""
    return f"{told(line.short)} {unit}{order}"
