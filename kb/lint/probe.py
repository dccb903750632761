"""Which items any of some plain jobs can use: what none can is of no use in the catalog."""

from __future__ import annotations

from kb.engine.plan import Engine
from kb.knowledge import Knowledge
from kb.planning.ask import ask
from kb.planning.coverage import columns, job_for, representatives

#: For whether an item is ever used: enough surroundings and parts to reach every family, and no more.
EASY_COLUMNS = ("dry-air, a day", "humid-air, a month", "80 degC", "120 degC")
PROBE_PARTS = (
    "stainless-steel", "aluminium-alloy", "solder-mask", "polyethylene", "fluoropolymer", "silicone-rubber", "glass",
    "concrete", "wood", "carbon-composite", "polycarbonate", "alumina-ceramic", "titanium-alloy", "rubber",
    "polymer-foam", "carbon-steel", "polypropylene",
)  # fmt: skip


def used_items(knowledge: Knowledge) -> set[str]:
    """Ids of all items that at least one probe job can use."""
    engine = Engine(knowledge)
    parts = {f: e for f, e in representatives(knowledge).items() if f in PROBE_PARTS}
    used: set[str] = set()
    everything = {o.id for domain in engine.domains for o in domain.options} - {""}
    for column in columns():
        for family, entry in parts.items():
            if family != "stainless-steel" and not column.startswith(EASY_COLUMNS):
                continue
            span, exposures, days = columns()[column]
            plan = ask(engine, job_for(entry.id, span, exposures, days), "probe", 1).plan
            if plan.chains:
                used |= everything - {item.id for item, _ in plan.excluded}
    return used
