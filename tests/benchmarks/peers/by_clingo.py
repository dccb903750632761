"""clingo: grounds, finds the least cost, takes chains of that cost, forbids these chains and goes on."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import prod
from threading import Timer

import clingo

from tests.benchmarks.generate import COATS, SLOTS, Written
from tests.benchmarks.peers.reading import joining, may_be_empty, own_points


def least(written: Written, k: int, limit_s: float, options: tuple[str, ...] = ()) -> list[int] | None:
    control = clingo.Control(["--warn=none", *options])
    counts = {slot: [1, *(count for _, _, count in own_points(written, slot))] for slot in SLOTS}
    control.add("base", [], "\n".join(_program(written)))
    control.ground([("base", [])])
    solving = control.configuration.solve
    assert isinstance(solving, clingo.Configuration)
    # In one thread, so that its processor time can be told: another only rings when time is up.
    bell = Timer(limit_s, control.interrupt)
    bell.start()
    try:
        found: list[int] = []
        while len(found) < k:
            solving.opt_mode, solving.models = "optN", str(k - len(found))
            chains = []
            with control.solve(yield_=True) as models:
                for model in models:
                    if model.optimality_proven:
                        chains.append((model.cost[0], [a for a in model.symbols(atoms=True) if a.name == "pick"]))
                if models.get().interrupted:
                    return None
            if not chains:
                break
            for number, (cost, picks) in enumerate(chains):
                places = [(a.arguments[0].name, a.arguments[1].number) for a in picks]
                found += [cost] * min(k, prod(counts[slot][place] for slot, place in places))
                name = f"cut{len(found)}_{number}"
                control.add(name, [], f":- {', '.join(map(str, picks))}.")
                control.ground([(name, [])])
        return found[:k]
    finally:
        bell.cancel()


def _program(written: Written) -> Iterator[str]:
    yield "1 { pick(S,I) : item(S,I) } 1 :- slot(S)."
    yield "has(S,F,V) :- pick(S,I), facet(S,I,F,V)."
    yield ":~ costs(K,W). [W,K]"
    used = {(t.slot, t.facet) for s in joining(written) for t in s.terms}
    for slot in SLOTS:
        yield f"slot({slot})."
        if may_be_empty(written, slot):
            yield f"item({slot},0)."
        for position, (points, facets, _) in enumerate(own_points(written, slot), start=1):
            yield f"item({slot},{position}). own({slot},{position},{points})."
            yield from (f"facet({slot},{position},{f},{v})." for f, v in enumerate(facets) if (slot, f) in used)
    yield "costs(S,W) :- pick(S,I), own(S,I,W)."
    for lower, upper in pairwise(COATS):
        yield f":- pick({lower},0), not pick({upper},0)."
    for number, statement in enumerate(joining(written)):
        body = []
        for term in statement.terms:
            facts = [f"has({term.slot},{term.facet},{value})" for value in sorted(term.values)]
            if term.absent:
                yield from (f"supplied({number}) :- {fact}." for fact in facts)
                body.append(f"not supplied({number})")
            else:
                body += facts
        if statement.points is None:
            yield f":- {', '.join(body)}."
        else:
            yield f"costs({number},{statement.points}) :- {', '.join(body)}."
