"""The command `run`: the bench run in a terminal, one step after the other; it goes on where it was left."""

from __future__ import annotations

import secrets
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Any

import typer

from kb.base.errors import BadInput, TackroomError
from kb.base.units import signed
from kb.cli.common import Workspace, now, print_text, today
from kb.cli.day import ChainRank, JobFile
from kb.cli.stock_common import Who, open_items, open_ledger, person
from kb.cli.work import asked

HELP = (
    "Enter: done by all of them. 2 3: by these alone. n NOTE: note it. x WHY, or x 2 WHY: reject. "
    "e WHY: go on before a wait is over. g: go on with those that are ready. q: leave, and go on later."
)


def run(
    job: JobFile,
    gauges: Annotated[int | None, typer.Option(min=1, max=48, help="How many gauges (those of one part).")] = None,
    name: Annotated[str, typer.Option("--run", help="The run to go on with, as it was called when it was left.")] = "",
    chain: ChainRank = 1,
    who: Who = None,
    workspace: Workspace = None,
) -> None:
    """Work at the bench step by step: what to do, timers, lots, readings; the record is written at the end."""
    from kb.planning.procedure import procedure
    from kb.quantities.layout import timeline
    from kb.work.rounds import tasks

    it = asked(job, chain, workspace)
    if it.name == type(it.job.job)().name:
        raise BadInput(f"{job}: job.name", "is missing", "name the job: its installations are found again by it")
    steps = procedure(it.plan, it.chain)
    number = gauges or it.job.batch.gauges_per_board
    bench = Bench(it, name or f"run-{secrets.token_hex(4)}", steps, person(who), workspace)
    bench.tasks = tasks(timeline(it.plan, it.chain, number), steps)
    print_text(f"Run {bench.name}: {number} gauges, {len(steps)} steps. {HELP}\n")
    try:
        bench.walk()
    except EOFError:
        print_text(f"Left. Go on with: tackroom run {job} --run {bench.name} --gauges {number}\n")


class Bench:
    """A run as somebody at a terminal does it; every thing that happens is kept at once."""

    def __init__(self, it: Any, name: str, steps: Sequence[Any], who: str, workspace: Path | None) -> None:
        self.it, self.name, self.steps, self.who = it, name, steps, who
        self.ledger = open_ledger(workspace)
        self.facts_of = open_items(workspace, self.ledger).facts
        self.tasks: Sequence[Any] = ()
        #: Whether those that are ready wait for the last of their round.
        self.patient = True

    @property
    def events(self) -> list[Any]:
        from kb.work.run import happened

        return happened(self.ledger, self.name)

    def walk(self) -> None:
        """Take the steps as the schedule has them, until all is done and recorded."""
        from kb.stock.receiving import Barred
        from kb.work.walk import next_of

        if not self.events:
            self.happen("who", value=float(self._first_free()))
        while (found := next_of(self.tasks, self.steps, self.events, now(), self.patient)) is not None:
            if found.until is not None:
                self._wait(found)
            else:
                self.patient = True
                self._step(found)
        if not any(event["kind"] == "end" for event in self.events):
            self.happen("end", note=_asked("Part, serial number: "))
        try:
            kept = self._recorded()
        except Barred as fault:
            print_text(f"Not recorded: {fault}\n")
            self.happen("anyway", note=_words("It was used: why it is recorded all the same: "))
            kept = self._recorded()
        told = "; ".join(f"gauge {one['installation']} {one['outcome']}" for one in kept["installations"])
        print_text(f"Record {kept['id']}: {told}.\n")

    def _recorded(self) -> Any:
        from kb.work.run import record

        it = self.it
        return record(self.ledger, self.name, it.name, self.steps, it.chain, it.estimate, self.facts_of, today())

    def happen(self, kind: str, **more: Any) -> None:
        """Keep something that happened now."""
        from kb.work.run import keep

        at = now().isoformat()
        event = {"key": secrets.token_hex(8), "kind": kind, "at": at, "who": self.who, **more}
        keep(self.ledger, self.it.name, self.name, [event], today())

    def _step(self, found: Any) -> None:
        """Take a task through its steps; what is said to be done is done by all, or by those that were named."""
        steps = [self.steps[place] for place in found.task.steps]
        for place, step in zip(found.task.steps, steps, strict=True):
            print_text("".join(f"{line}\n" for line in _told(step, place + 1, len(self.steps), _gauges(found.names))))
        for step in steps:
            self._lot(step)
        words = _asked("done? > ")
        alone = words.replace(",", " ").split()
        some = alone if alone and set(alone) <= set(found.names) else list(found.names)
        if some != alone and self._said(words, found.names):
            return
        for name in some if steps[-1].limit else ():
            self._reading(steps[-1].limit, name)
        for place in found.task.steps:
            self.happen("done", step=place + 1, installations=some)

    def _wait(self, found: Any) -> None:
        ready = f" Ready: {_gauges(found.ready)}; g goes on with it." if found.ready else ""
        print_text(f"Wait until {found.until:%d %b %H:%M:%S}: {found.wait_for}, {_gauges(found.names)}.{ready}\n")
        words = _asked("waiting > ")
        if words.startswith("e ") and words[2:].strip():
            self.happen("early", installations=list(found.names), note=f"wait cut short: {words[2:].strip()}")
        elif words == "g" and found.ready:
            self.patient = False
        else:
            self._said(words, found.names)

    def _said(self, words: str, names: Sequence[str]) -> bool:
        """Tell whether something else was said than that it is done."""
        letter, _, rest = words.partition(" ")
        if letter == "q":
            raise EOFError
        if letter == "n" and rest.strip():
            self.happen("note", note=rest.strip())
        elif letter == "x" and rest.strip():
            self._reject(rest.strip(), names)
        elif words:
            print_text(f"{HELP}\n")
        return bool(words)

    def _reject(self, words: str, names: Sequence[str]) -> None:
        """Reject the one that is named first, or the only one there is."""
        name, _, why = words.partition(" ")
        if name in names and why.strip():
            self.happen("fail", installations=[name], note=why.strip())
        elif len(names) == 1 and name not in names:
            self.happen("fail", installations=list(names), note=words)
        else:
            print_text(f"Say which, and why: x {names[0]} a lifted corner\n")

    def _lot(self, step: Any) -> None:
        """Ask for the lot of an item where the run first uses it; one that must not be used is refused."""
        shelf = self.ledger.shelf()
        there = [lot for lot in shelf.lots.values() if lot.item == step.item and lot.quantity]
        known = {event["item"] for event in self.events if event["kind"] == "lot"}
        while there and step.item not in known:
            typed = _asked(f"Lot of {step.item} (one of {', '.join(lot.lot for lot in there[:5])}): ")
            try:
                self.happen("lot", item=step.item, lot=self._fit(typed, step.item))
                return
            except TackroomError as fault:
                print_text(f"Not this one: {fault}\n")

    def _fit(self, typed: str, item: str) -> str:
        from kb.stock.receiving import may_use
        from kb.stock.scan import lot_named

        mark = lot_named(typed, today())
        lot = self.ledger.lot(mark)
        if lot.item != item:
            raise BadInput(mark, f"is {lot.item}", "take the right thing")
        may_use(self.ledger, {"lot": mark, "at": today(), "reason": ""}, self.facts_of, False, today())
        return mark

    def _reading(self, limit: Any, name: str) -> None:
        from kb.work.recording import too_far

        while True:
            typed = signed(_asked(f"Gauge {name}: {limit['quantity']} [{limit['unit']}]: "))
            try:
                value = float(typed)
            except ValueError:
                print_text("A number is wanted.\n")
                continue
            self.happen("reading", installations=[name], name=limit["quantity"], value=value)
            if said := too_far(limit["quantity"], value, limit):
                print_text(f"It fails: {said}. Reject this gauge.\n")
                self.happen("fail", installations=[name], note=said)
            return

    def _first_free(self) -> int:
        from kb.work.run import first_free

        return first_free(self.ledger, self.it.name)


def _gauges(names: Sequence[str]) -> str:
    return f"gauge{'s' if len(names) > 1 else ''} {', '.join(names)}"


def _told(step: Any, number: int, count: int, which: str) -> Iterator[str]:
    from kb.rules.words import duration

    yield f"\n{number} of {count}, {step.stage}, {which}"
    yield f"  {step.do}"
    yield from (f"  must: {line}" for line in step.must)
    yield from (f"  NEVER: {line}" for line in step.never)
    if step.wait_s:
        yield f"  Then the clock runs: {duration(step.wait_s / 60)}{f' ({step.wait_for})' if step.wait_for else ''}."


def _words(prompt: str) -> str:
    """Ask somebody until they say something."""
    while not (words := _asked(prompt)):
        pass
    return words


def _asked(prompt: str) -> str:
    """Give a line that somebody types; EOFError where nobody does any more."""
    print_text(prompt)
    line = sys.stdin.readline() if sys.stdin is not None else ""
    if not line:
        raise EOFError
    return line.strip()
