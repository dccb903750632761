"""Every thing of one kind with every thing of another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kb.base.errors import BadInput, nearest
from kb.base.vocabulary import KINDS
from kb.engine.check.things import Setting, Thing, exposure_things
from kb.engine.check.verdict import Bench, Checked
from kb.engine.plan import Engine
from kb.rules.relations import EXPOSURE
from kb.rules.roles import BESIDE_ROLES

#: What is asked about most often, and is taken where nothing is said.
PRESET = ("adhesive", "coating")
#: The kinds of which a grid is made.
GRID_KINDS = (*(kind for kind in KINDS if kind not in BESIDE_ROLES), EXPOSURE)


@dataclass(frozen=True)
class Grid:
    """Verdicts of every row item with every column item; of coats the row is under the column."""

    kinds: tuple[str, str]
    rows: Sequence[str]
    columns: Sequence[str]
    cells: Sequence[Sequence[Checked]]


def grid_of(engine: Engine, rows: str, columns: str, setting: Setting | None = None, family: str = "") -> Grid:
    """Give every item of kind `rows` checked with every one of kind `columns`; a kind may be "exposure".

    With `family`, only the rows of that family; BadInput where the kind has none of that name.
    """
    down, across = _things(engine, rows, "rows"), _things(engine, columns, "columns")
    if family:
        families = sorted({t.entry.family for t in down if t.entry})
        if family not in families:
            mend = nearest(family, families) or f"one of: {', '.join(families)}"
            raise BadInput("family", f"'{family}' is no family of {rows}", mend)
        down = [t for t in down if t.entry and t.entry.family == family]
    bench = Bench(engine, setting)
    cells = [[bench.check((r, c)) for c in across] for r in down]
    return Grid((rows, columns), [t.id for t in down], [t.id for t in across], cells)


def _things(engine: Engine, kind: str, where: str) -> Sequence[Thing]:
    if kind == EXPOSURE:
        return exposure_things()
    if kind not in GRID_KINDS:
        raise BadInput(where, f"'{kind}' is no kind", nearest(kind, GRID_KINDS) or f"kinds: {', '.join(GRID_KINDS)}")
    return [Thing(e.id, e) for e in engine.knowledge.by_kind.get(kind, ())]
