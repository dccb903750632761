"""What would make things go together: another item in the place of one of them, or one more that supplies a need."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kb.engine.check.hearing import VERDICTS, supplied
from kb.engine.check.layout import AS_FIRST
from kb.engine.check.things import Setting, Thing, room_for
from kb.engine.check.verdict import Bench, Checked
from kb.engine.plan import Engine
from kb.rules.relations import EXPOSURE
from kb.rules.roles import BESIDE_ROLES, kinds_of

#: No more items than this are named for one remedy.
MOST_NAMED = 5
#: What is what it is: nothing is proposed in its place.
_GIVEN = ("substrate", EXPOSURE, *BESIDE_ROLES)


@dataclass(frozen=True)
class Remedy:
    """Put one of `by` in the place of `item`; or, where `item` is empty, add one of them."""

    item: str
    by: tuple[str, ...]
    verdict: str
    #: Whether what is added is a first coat, below all others.
    below: bool = False


def remedies(engine: Engine, things: Sequence[Thing], checked: Checked, setting: Setting | None = None) -> list[Remedy]:
    """Say of things that are blocked or need something what would do, the like of what was named first."""
    search = _Search(engine, things, Bench(engine, setting))
    swaps = [search.swap(place) for place in range(len(things))] if checked.verdict == "blocked" else []
    return [swap for swap in swaps if swap is not None] + [*search.below(checked), *search.added(checked)]


class _Search:
    """The things, and the bench on which others are tried in their place."""

    def __init__(self, engine: Engine, things: Sequence[Thing], bench: Bench) -> None:
        self.by_kind, self.things, self.bench = engine.knowledge.by_kind, things, bench

    def swap(self, place: int) -> Remedy | None:
        """Give the items that go best in the place of one thing; None where none is better than blocked."""
        entry = self.things[place].entry
        if entry is None or entry.kind in _GIVEN:
            return None
        ranked: list[tuple[int, bool, str]] = []
        for other in self.by_kind[entry.kind]:
            tried = [*self.things[:place], Thing(other.id, other), *self.things[place + 1 :]]
            verdict = self.bench.check(tried).verdict
            ranked.append((VERDICTS.index(verdict), other.family != entry.family, other.id))
        best = min(ranked)[0]
        if VERDICTS[best] == "blocked":
            return None
        named = sorted(row for row in ranked if row[0] == best)
        return Remedy(entry.id, tuple(name for _, _, name in named[:MOST_NAMED]), VERDICTS[best])

    def below(self, checked: Checked) -> Iterator[Remedy]:
        """Find for coats that can't be the first the coats that go best below them."""
        if not any(use.words == (AS_FIRST,) and not use.possible for use in checked.uses):
            return
        place = next(at for at, thing in enumerate(self.things) if thing.kind == "coating")
        tried = {
            other.id: self.bench.check([*self.things[:place], Thing(other.id, other), *self.things[place:]]).verdict
            for other in self.by_kind["coating"]
        }
        best = min(tried.values(), key=VERDICTS.index)
        if best != "blocked":
            yield Remedy("", tuple(name for name, verdict in tried.items() if verdict == best)[:MOST_NAMED], best, True)

    def added(self, checked: Checked) -> Iterator[Remedy]:
        """Find for each need that nothing supplies what could be added, without anything new being blocked."""
        for finding in checked.findings:
            if not finding.rule.needs or supplied(finding) or not finding.known:
                continue
            kinds = {kind for need in finding.rule.needs for role in need.roles() for kind in kinds_of(role)}
            named = []
            for kind in sorted(kind for kind in kinds if room_for(kind, self.things) > 0):
                for other in self.by_kind[kind]:
                    tried = self.bench.check([*self.things, Thing(other.id, other)])
                    met = all(supplied(f) for f in tried.findings if f.rule is finding.rule)
                    if met and tried.verdict != "blocked":
                        named.append((VERDICTS.index(tried.verdict), other.id))
            if named:
                best = min(named)[0]
                ids = tuple(name for worst, name in sorted(named) if worst == best)
                yield Remedy("", ids[:MOST_NAMED], VERDICTS[best])
