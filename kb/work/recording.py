"""From what a bench says of its installations to a record: pass or fail by the limits, and what each lot gave.

The limits are those of the procedure's steps (generic_catalog/steps/9-verify.toml). What wasn't measured is said to
be unmeasured; an installation that passes has no reading beyond its limit.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from kb.base.errors import BadInput, nearest
from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.job import Bench
from kb.planning.procedure import Step, procedure
from kb.quantities.estimate import Estimate, Installations
from kb.stock.amounts import amount as exact
from kb.stock.flags import FactsOf
from kb.stock.fold import present_names
from kb.stock.ledger import Ledger, Look, without_number
from kb.stock.receiving import may_use
from kb.stock.stores import Document, Draft, Entry, Once
from kb.stock.tables import read
from kb.work.drawing import departures_of, draws, lots_given
from kb.work.forms import checked
from kb.work.installations import Installation, installations

Limits = Mapping[str, Mapping[str, Any]]
_COLUMNS = ("installation", "part", "outcome", "lots", "photo", "note")
#: No more installations are recorded at once.
_MOST = 100_000


def limits_of(steps: Iterable[Step]) -> dict[str, Mapping[str, Any]]:
    """Give the limits that a chain's steps set, by quantity."""
    return {step.limit["quantity"]: step.limit for step in steps if step.limit}


def judge(
    installation: str, outcome: str, readings: Mapping[str, float], limits: Limits
) -> tuple[str, str, tuple[str, ...]]:
    """Give the outcome, why it failed, and what wasn't measured.

    Without an outcome the readings decide, where each limit has one. BadInput where a pass has a reading beyond
    its limit, or where nothing says how it came out.

    >>> limits = {"zero_return_ue": {"at_most": 2.0, "unit": "microstrain"}}
    >>> judge("1", "", {"zero_return_ue": -2.5}, limits)
    ('fail', 'zero_return_ue -2.5 microstrain, at most 2', ())
    >>> judge("1", "pass", {}, limits)
    ('pass', '', ('zero_return_ue',))
    """
    for name in readings:
        if name not in limits:
            raise BadInput(
                name, "is no reading that this chain's steps ask for", nearest(name, limits) or _told(limits)
            )
    beyond = [said for name, value in readings.items() if (said := too_far(name, value, limits[name]))]
    unmeasured = tuple(name for name in limits if name not in readings)
    if outcome not in ("", "pass", "fail"):
        raise BadInput(f"installation {installation}", f"'{outcome}' is not an outcome", "pass or fail")
    if not outcome and unmeasured and not beyond:
        what = f"nothing says how it came out: {', '.join(unmeasured)} not measured"
        raise BadInput(f"installation {installation}", what, "give an outcome, pass or fail")
    if outcome == "pass" and beyond:
        raise BadInput(f"installation {installation}", f"can't pass: {beyond[0]}", "it failed, or the reading is wrong")
    return outcome or ("fail" if beyond else "pass"), "; ".join(beyond), unmeasured


def _told(limits: Limits) -> str:
    return f"they ask for {', '.join(limits)}" if limits else "they ask for none"


def too_far(name: str, value: float, limit: Mapping[str, Any]) -> str:
    """Tell how a reading passes its limit; "" where it doesn't. A deviation counts whichever way it goes."""
    most, least = limit.get("at_most"), limit.get("at_least")
    if most is not None and abs(value) > most:
        return f"{name} {value:g} {limit['unit']}, at most {most:g}"
    if least is not None and value < least:
        return f"{name} {value:g} {limit['unit']}, at least {least:g}"
    return ""


def made(given: Mapping[str, Any], readings: Mapping[str, float], limits: Limits, reason: str = "") -> dict[str, Any]:
    """Give one installation, judged, as a record holds it; `reason` is why it failed, where nothing else says so."""
    outcome, why, unmeasured = judge(given["installation"], given.get("outcome", ""), readings, limits)
    told = why or (given.get("note", "") or reason if outcome == "fail" else "")
    return {**given, "outcome": outcome, "why": told, "readings": dict(readings), "unmeasured": unmeasured}


def numbered(words: str) -> list[str]:
    """Give the names of installations; BadInput where they go backwards, or are more than anybody records at once.

    >>> numbered("1-3,7,spare")
    ['1', '2', '3', '7', 'spare']
    """
    found: list[str] = []
    for piece in (p.strip() for p in words.split(",") if p.strip()):
        first, dash, last = piece.partition("-")
        digits = dash and all(end.isdecimal() and len(end) <= 9 for end in (first, last))
        if digits and int(first) > int(last):
            raise BadInput("installation", f"'{piece}' goes backwards", f"write {last}-{first}")
        if digits and int(last) - int(first) < _MOST:
            found += [str(n) for n in range(int(first), int(last) + 1)]
        else:
            found.append(piece)
        if len(found) > _MOST or (digits and int(last) - int(first) >= _MOST):
            raise BadInput("installation", f"more than {_MOST} at once", "record them in parts")
    return found


def from_table(
    content: bytes, where: str, limits: Limits, lots: Sequence[str], reason: str = ""
) -> list[dict[str, Any]]:
    """Give the installations in a table: one a row, a column for each reading; `lots` where a row names none.

    Raises BadInput or Faults with row and column.
    """
    table = read(content, where, (*_COLUMNS, *limits), ("installation",), tuple(limits))
    found = []
    for row in table.rows:
        values = {name: table.number(row, name) for name in limits}
        readings = {name: float(value) for name, value in values.items() if value is not None}
        given: dict[str, Any] = {name: row.cells[name] for name in _COLUMNS if row.cells.get(name)}
        given["lots"] = row.cells.get("lots", "").replace(",", " ").replace(";", " ").split() or list(lots)
        try:
            found.append(made({"installation": "", **given}, readings, limits, reason))
        except BadInput as fault:
            table.fault(row, "", f"{fault.where}: {fault.what}", fault.mend)
    table.close()
    return found


def asked_record(
    *,
    plan: Plan,
    chain: Chain,
    estimate: Estimate,
    ledger: Ledger,
    facts_of: FactsOf,
    table: tuple[bytes, str] | None,
    said: Mapping[str, str],
    readings: Iterable[str],
    room: Iterable[str],
    lots: Iterable[str],
    head: Mapping[str, Any],
    today: str,
    ahead: bool = False,
    anyway: bool = False,
) -> dict[str, Any]:
    """Give a record as the command line asks for it, ready for `record`.

    `table` holds the bytes and the name of a file with a row for each installation; without one, `said` and
    `readings` go for each of those named. BadInput, Faults or Barred say what stands against it.
    """
    job = plan.job.job.name
    if job == type(plan.job.job)().name:
        raise BadInput("job.name", "is missing", "name the job: its installations are found again by it")
    limits = limits_of(procedure(plan, chain))
    given = lots_given(lots)
    reason = str(head.get("reason", ""))
    if table is not None:
        found = from_table(*table, limits, list(given), reason)
    else:
        each = {name: words for name, words in said.items() if words} | {"lots": list(given)}
        measured = _numbers(readings, "--reading")
        found = [
            made({**each, "installation": one}, measured, limits, reason) for one in numbered(said["installation"])
        ]
    shelf = ledger.shelf()
    used = sorted({*given, *(lot for one in found for lot in one["lots"])})
    items = {*chain.named.values(), *(line.entry.id for line in estimate.lines)}
    departures = departures_of(items, used, shelf, anyway)
    earlier = _recorded(ledger, job)
    if plan.job.batch.model_fields_set & {"boards", "gauges_per_board"}:
        _must_be_of_the_job(found, earlier, estimate.installations)
    here = {one["installation"] for one in found} if head.get("again") else set()
    has = {lot for one in earlier if one.name in here for lot in one.lots}
    taken = draws(estimate, found, given, shelf)
    for mark in used:
        may_use(ledger, {**head, "lot": mark}, facts_of, anyway, today, ahead)
    return {
        **head,
        "job": job,
        "chain": chain.named,
        "departures": departures,
        "items": {mark: shelf.lots[mark].item for mark in used},
        # What is only looked at again takes nothing more of the lots that it has, unless it says so.
        "draws": [draw for draw in taken if draw["lot"] not in has or given.get(draw["lot"]) is not None],
        "bench": _numbers(room, "--bench", tuple(Bench.model_fields)),
        "installations": found,
    }


def _recorded(ledger: Ledger, job: str) -> list[Installation]:
    """List the installations of a job that are recorded so far."""
    with ledger.looking() as look:
        return installations(look.documents("work", {job}), present_names(look.shelf))


def _must_be_of_the_job(
    found: Sequence[Mapping[str, Any]], earlier: Sequence[Installation], counted: Installations
) -> None:
    """Raise BadInput at a number beyond the attempts that the job plans, or that what failed calls for.

    What is no number ("spare"), or was recorded before, is let be.
    """
    failed = sum(one.failed for one in earlier) + sum(one["outcome"] == "fail" for one in found)
    most = max(counted.attempts, counted.good_needed + failed)
    known = {one.name for one in earlier}
    for name in (one["installation"] for one in found):
        if name.isdecimal() and name not in known and not 0 < int(name) <= most:
            spares = f", {most} with those that may fail" if most > counted.good_needed else ""
            what = f"is beyond this job: it has {counted.good_needed} gauges{spares}"
            raise BadInput(f"installation {name}", what, "mend the number, or the job file's [batch] if more are made")


def record(
    ledger: Ledger, raw: Mapping[str, Any], today: str, ahead: bool = False, once: Once | None = None
) -> Document:
    """Keep a record and take what it used from the stock, in one: both or neither. Raises BadInput or StoreError.

    An installation that was recorded before is refused, unless the record says `again`.
    """
    entries = ledger.append(lambda look: _drafts(look, raw, today, ahead), once)
    return record_in(entries)


def rehearse(ledger: Ledger, raw: Mapping[str, Any], today: str, ahead: bool = False) -> Document:
    """Give what `record` would keep, without its number; the same errors, and nothing written."""
    with ledger.looking() as look:
        return without_number(_drafts(look, raw, today, ahead)[0].body)


def record_in(entries: Sequence[Entry]) -> Document:
    """Give the record among the entries that recording it added."""
    return next(entry.body for entry in entries if entry.stream == "work")


def _drafts(look: Look, raw: Mapping[str, Any], today: str, ahead: bool) -> list[Draft]:
    """Give the record and its uses of the stock, tied to each other by the record's number."""
    number = look.next_number("work")
    head = {"id": number, "type": "installed", "recorded": today, "as_of": look.next_number("stock") - 1}
    wanted = checked({**raw, **head})
    _must_be_new(wanted, look.documents("work", {wanted["job"]}))
    count = len(wanted["installations"])
    which = f"{count} of them" if count > 1 else wanted["installations"][0]["installation"]
    said = {"type": "used", "at": wanted["at"], "who": wanted["who"], "job": wanted["job"], "installation": which}
    uses = [{**said, **draw} for draw in wanted.get("draws", ())]
    return [Draft("work", wanted), *look.admitted(uses, today, ahead, record=number)]


def _must_be_new(wanted: Document, earlier: Iterable[Document]) -> None:
    known = {one["installation"] for record in earlier for one in record.get("installations", ())}
    here = Counter(one["installation"] for one in wanted["installations"])
    twice = [name for name, count in here.items() if count > 1 or (name in known and not wanted.get("again"))]
    if twice:
        raise BadInput(f"installation {twice[0]}", "is recorded already", "--again with a --reason adds to it")
    if wanted.get("again") and not wanted.get("reason"):
        raise BadInput("--reason", "is missing", "say why it is recorded again")


def _numbers(words: Iterable[str], option: str, known: Sequence[str] = ()) -> dict[str, float]:
    """Values by name, from "NAME=VALUE"."""
    found: dict[str, float] = {}
    for piece in words:
        name, _, value = piece.partition("=")
        if known and name.strip() not in known:
            raise BadInput(option, f"'{name}' is nothing that a bench is measured by", nearest(name, known))
        try:
            found[name.strip()] = float(exact(value))
        except ValueError as fault:
            raise BadInput(f"{option} {name}", str(fault), "such as zero_return_ue=1.2") from None
    return found
