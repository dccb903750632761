"""The k best costs of a model, by answer set programming: clingo grounds, optimises and enumerates."""

from __future__ import annotations

from collections.abc import Iterator
from math import gcd

import clingo

from tests.oracles.model import Model, Sets

#: Largest number that clingo's 32-bit arithmetic holds.
LARGEST = 2**31 - 1


def k_best_costs(model: Model, k: int) -> list[int]:
    """The costs of the k best chains, in order; fewer where fewer exist."""
    control = clingo.Control(["--warn=none"])
    control.add("base", [], "\n".join(program(model)))
    control.add("above", ["c"], ":- #sum { W,K : costs(K,W) } <= c.")
    control.ground([("base", [])])
    solving = control.configuration.solve
    assert isinstance(solving, clingo.Configuration)
    found: list[int] = []
    while len(found) < k:
        solving.opt_mode, solving.models = "opt", "0"
        cost: int | None = None
        with control.solve(yield_=True) as models:
            for answer in models:
                # Where nothing costs anything, no cost is reported.
                cost = answer.cost[0] if answer.cost else 0
        if cost is None:
            break
        solving.opt_mode, solving.models = f"enum,{cost}", str(k)
        with control.solve(yield_=True) as models:
            for answer in models:
                found += [cost] * members(model, answer)
        control.ground([("above", [clingo.Number(cost)])])
    return found[:k]


def members(model: Model, answer: clingo.Model) -> int:
    """How many chains an answer stands for: one for each choice of members of its classes."""
    count = 1
    for symbol in answer.symbols(atoms=True):
        if symbol.name == "pick":
            slot, number = symbol.arguments
            count *= len(model.classes[slot.name][number.number][2])
    return count


def program(model: Model) -> Iterator[str]:
    """The model as a logic program: what is picked, what is in which set, what that costs."""
    yield "1 { pick(S,C) : class(S,C) } 1 :- slot(S)."
    yield ":~ costs(K,W). [W,K]"
    sets: dict[tuple[str, frozenset[int]], str] = {}

    def met(wanted: Sets) -> str:
        """A body that holds where every slot is filled from its set."""
        names = (sets.setdefault((slot, here), f"in({len(sets)})") for slot, here in wanted.items())
        return ", ".join(sorted(names)) or "slot(adhesive)"

    times = []
    for slot, classes in model.classes.items():
        yield f"slot({slot})."
        for number, (points, ms, _) in enumerate(classes):
            yield f"class({slot},{number})."
            if points:
                yield f"costs({slot},{points}) :- pick({slot},{number})."
            if ms:
                times.append((ms, f"pick({slot},{number})", slot))
    for number, clause in enumerate(model.clauses):
        if clause.closes:
            yield f":- {met(clause.sets)}."
            continue
        yield f"holds({number}) :- {met(clause.sets)}."
        if clause.points:
            yield f"costs({number},{clause.points}) :- holds({number})."
        if clause.ms:
            times.append((clause.ms, f"holds({number})", str(number)))
    for slot, permits in model.permits.items():
        for number, (_, _, positions) in enumerate(model.classes[slot]):
            if positions == (0,):
                yield from (f"permitted({slot}) :- {met(permit)}." for permit in permits if all(permit.values()))
                yield f":- pick({slot},{number}), not permitted({slot})."
    for (slot, here), name in sets.items():
        yield from (f"{name} :- pick({slot},{number})." for number in sorted(here))
    if sum(ms for ms, _, _ in times) > model.limit_ms:
        unit = gcd(*(ms for ms, _, _ in times))
        assert sum(ms for ms, _, _ in times) // unit < LARGEST
        terms = "; ".join(f"{ms // unit},{key} : {atom}" for ms, atom, key in times)
        yield f":- #sum {{ {terms} }} > {model.limit_ms // unit}."
