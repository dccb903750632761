"""The commands `timeline`, `pick`, `record` and `trace`: the work itself, and what is kept of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from pathlib import Path
from typing import Annotated, Any

import typer

from kb.base import disk
from kb.base.errors import ACT, BadInput
from kb.cli.common import (
    AsJson,
    OnDay,
    Unwritable,
    Workspace,
    job_in,
    print_json,
    print_text,
    tell,
    today,
    workspace_folder,
)
from kb.cli.day import ChainRank, JobFile
from kb.cli.files import every_fault, put
from kb.cli.planned import day_of, planned
from kb.cli.stock_common import Ahead, At, DryRun, Who, if_given, meant, moment, open_items, open_ledger, person


@dataclass(frozen=True)
class Work:
    """A job with the chain that was chosen for it."""

    job: Any
    plan: Any
    chain: Any

    @property
    def name(self) -> str:
        return str(self.job.job.name)

    @cached_property
    def estimate(self) -> Any:
        """What it takes."""
        from kb.quantities.estimate import estimate

        return estimate(self.plan, self.chain)

    def lots(self, on: str | None, workspace: Path | None) -> Any:
        """Tell what to take for it from which lot; what other jobs have reserved is left for them."""
        from kb.stock.supplies import Supplies
        from kb.work.costing import in_own_packs
        from kb.work.picking import pick_for
        from kb.work.reserving import reserved_in

        ledger = open_ledger(workspace)
        others = reserved_in(ledger, apart_from=self.name)
        facts = open_items(workspace, ledger).facts
        work = in_own_packs(self.estimate, Supplies.load(workspace_folder(workspace)).by_item)
        return pick_for(work, ledger.shelf(), facts, day_of(self.job, on), others)


def asked(path: Path, rank: int, workspace: Path | None) -> Work:
    """Plan the job in a file."""
    found = planned(path, workspace, rank)
    return Work(found.job, found.plan, found.chain(rank))


def _when(given: str | None, option: str) -> datetime | None:
    return None if given is None else datetime.fromisoformat(moment(given, option, ahead=True))


def timeline(
    job: JobFile,
    chain: ChainRank = 1,
    technicians: Annotated[int | None, typer.Option(min=1, max=100, help="How many people (the job's).")] = None,
    ovens: Annotated[int | None, typer.Option(min=1, max=100, help="How many ovens (1).")] = None,
    oven_holds: Annotated[int | None, typer.Option(min=1, max=1000, help="Parts that go into an oven (8).")] = None,
    clamps: Annotated[int | None, typer.Option(min=1, max=10_000, help="How many clamps or weights (enough).")] = None,
    hours: Annotated[str | None, typer.Option(help="Working hours (8-16:30).")] = None,
    days: Annotated[str | None, typer.Option(help="Working days (mon-fri).")] = None,
    start: Annotated[
        str | None, typer.Option(help="When to start, ISO or 'monday 8:30' (when work opens on the job's day).")
    ] = None,
    deadline: Annotated[
        str | None, typer.Option(help="When it must be ready, ISO or 'friday 16:00' (a day: its start).")
    ] = None,
    exact: Annotated[bool, typer.Option("--exact", help="Compare with a solver, also where that takes long.")] = False,
    picture: Annotated[Path | None, typer.Option("--picture", help="Draw it into this SVG file.")] = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Say who does what when: start by, ready at, what holds it up, and what one more of it would save."""
    from kb.quantities import exact as solver
    from kb.quantities.layout import exact as solved
    from kb.quantities.layout import timeline as schedule
    from kb.quantities.workday import Workday
    from kb.report.timeline import timeline_json, timeline_svg, timeline_text

    if start is not None and deadline is not None:
        raise BadInput("--deadline", "a start is given too", "leave one of them out")
    if exact and not solver.installed():
        raise BadInput("--exact", "the solver is not installed", "install tackroom[schedule]")
    it = asked(job, chain, workspace)
    workday = Workday(technicians, ovens, oven_holds, clamps, hours, days)
    attempts = it.estimate.installations.attempts
    found = schedule(it.plan, it.chain, attempts, workday, _when(start, "--start"), _when(deadline, "--deadline"))
    quick = attempts * len(found.campaign.route) <= solver.QUICK
    best = solved(found, effort=10.0 if exact else 1.0) if exact or quick else None
    if picture is not None:
        put(timeline_svg(found, best), picture, (".svg",))
    print_json(timeline_json(found, best)) if as_json else print_text(timeline_text(found, best))
    if deadline is not None and found.moment(found.first_s).date() < date.fromisoformat(today()):
        tell("--deadline: the day on which the work had to start has passed: name a later one")


def pick(
    job: JobFile,
    chain: ChainRank = 1,
    on: OnDay = None,
    keep: Annotated[bool, typer.Option("--reserve", help="Keep it for this job, until picked again.")] = False,
    release: Annotated[bool, typer.Option("--release", help="Let go what is reserved for this job.")] = False,
    who: Who = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Say what to take from which lot, first expired first out. Exit status 1 where anything is short."""
    from kb.report.pick import pick_json, pick_text, released_text
    from kb.work.reserving import own_reservation, reserve

    it, ledger = asked(job, chain, workspace), open_ledger(workspace)
    if release:
        before = own_reservation(ledger, it.name)
        reserve(ledger, it.name, (), today(), person(who), today())
        if not as_json:
            print_text(released_text(it.name, before))
            return
    found = it.lots(on, workspace)
    if keep:
        reserve(ledger, it.name, found.draws, today(), person(who), today())
    print_json(pick_json(found)) if as_json else print_text(pick_text(found))
    if found.short:
        raise typer.Exit(ACT)


def record(
    job: JobFile,
    outcome: Annotated[str, typer.Option("--outcome", help="pass, fail, or a table (CSV) with a row for each.")] = "",
    lots: Annotated[list[str] | None, typer.Option("--lots", help="LOT,LOT=AMOUNT: what was used; repeatable.")] = None,
    installation: Annotated[str, typer.Option("--installation", help="Which: 1, or 1-40,43.")] = "1",
    part: Annotated[str, typer.Option("--part", help="The part that they are on.")] = "",
    reading: Annotated[list[str] | None, typer.Option("--reading", help="QUANTITY=VALUE; repeatable.")] = None,
    bench: Annotated[list[str] | None, typer.Option("--bench", help="The room: relative_humidity_pct=45, …")] = None,
    photo: Annotated[str, typer.Option("--photo", help="Where its photo is kept.")] = "",
    note: Annotated[str, typer.Option("--note", help="What else is to be said.")] = "",
    chain: ChainRank = 1,
    again: Annotated[bool, typer.Option("--again", help="Recorded before, and looked at again.")] = False,
    anyway: Annotated[bool, typer.Option("--anyway", help="Although a lot is barred; needs a --reason.")] = False,
    reason: Annotated[str, typer.Option("--reason", help="Why.")] = "",
    at: At = None,
    who: Who = None,
    ahead: Ahead = False,
    dry_run: DryRun = False,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Keep what was made: outcome, lots, readings; the stock is drawn down, and the chain's yield learned."""
    from kb.report.trace import record_json, record_text
    from kb.work.installations import learned_yield
    from kb.work.recording import asked_record, rehearse
    from kb.work.recording import record as keep

    it, ledger, when = asked(job, chain, workspace), open_ledger(workspace), moment(at)
    ahead = meant([{"at": when}], ahead)
    table = Path(outcome) if outcome not in ("", "pass", "fail") else None
    if table is not None and not table.suffix and not table.exists():
        raise BadInput(
            "--outcome", f"'{outcome}' is neither pass nor fail, and no file", "pass, fail, or a table (CSV)"
        )
    with every_fault():
        wanted = asked_record(
            plan=it.plan,
            chain=it.chain,
            estimate=it.estimate,
            ledger=ledger,
            facts_of=open_items(workspace, ledger).facts,
            table=None if table is None else (disk.read(table), table.name),
            said={"installation": installation, "part": part, "outcome": outcome, "photo": photo, "note": note},
            readings=reading or (),
            room=bench or (),
            lots=lots or (),
            head={"at": when, "who": person(who), "reason": reason, "again": again},
            today=today(),
            ahead=ahead,
            anyway=anyway,
        )
    document = (rehearse if dry_run else keep)(ledger, wanted, today(), ahead)
    records = [*ledger.documents("work"), *([document] if dry_run else [])]
    learned = learned_yield(records, wanted["chain"], it.job.batch.expected_yield)
    try:
        print_json(record_json(document, learned, dry_run)) if as_json else print_text(record_text(document, learned))
    except Unwritable as fault:
        raise fault if dry_run else Unwritable(fault.what, f"it was recorded: look with `trace {it.name}`") from None


def trace(
    of: Annotated[str, typer.Argument(metavar="[LOT|JOB]", help="A lot, a job's name, or a job file.")] = "",
    part: Annotated[str, typer.Option("--part", help="Only what is on this part.")] = "",
    who: Annotated[str, typer.Option("--who", help="Only what this person recorded.")] = "",
    since: Annotated[str | None, typer.Option("--since", help="Only from this day on, ISO or 'monday'.")] = None,
    until: Annotated[str | None, typer.Option("--until", help="Only up to this day, ISO or 'monday'.")] = None,
    batch: Annotated[str, typer.Option("--batch", help="Every container of this lot of the maker's.")] = "",
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Show which parts a lot went on, with what to call back; or which lots a job, a part or a day was made from."""
    from kb.report.trace import trace_json, trace_text
    from kb.work.trace import Sought
    from kb.work.trace import trace as find

    is_job = of.endswith(".toml")
    name = str(job_in(Path(of)).job.name) if is_job else of
    first, last = if_given(since, "--since") or "", if_given(until, "--until") or ""
    ledger = open_ledger(workspace)
    found = find(ledger, Sought(name, is_job, batch, part, who, first, last))
    items = open_items(workspace, ledger)
    names = {one.item: items.name(one.item) for one in found.lots}
    print_json(trace_json(found)) if as_json else print_text(trace_text(found, names))
