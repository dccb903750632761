"""The answer to `plan` on one screen: chain, when ready, why, what stops and must be read, and what else there is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from kb.base.units import degrees
from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.knowledge import Entry
from kb.materials.resolve import Resolved, missed_by
from kb.planning.alternatives import Alternative
from kb.planning.ask import Asked
from kb.quantities.layout import hours_of
from kb.report.first import equals, how_firmly, how_sure, why_first
from kb.report.hanging import hanging_lines
from kb.report.others import is_in_time, line
from kb.report.plan_text import head_lines, plan_text, refused_lines, step_lines, trouble_lines
from kb.report.reading import must_read
from kb.report.ready import ready_words
from kb.report.text import STANDING, capitalize_first, clipped, wrapped
from kb.rules.findings import Finding, distinct
from kb.rules.words import duration, message

if TYPE_CHECKING:
    # Only where there is no chain: a plan that has one doesn't load the search for conflicts.
    from kb.engine.conflict import Trouble

#: No answer is longer than this; what must be read goes first, and the rest is counted.
MOST_LINES = 40
MOST_READ, FEWEST_READ = 7, 3
#: So many of the rules that refuse most of a kind are named.
MOST_RULES = 3
#: The lines of a chain: what they begin with, and the slots that they name.
_ROWS = (
    ("Prepare", ("degreaser", "abrasive_dry", "abrasive_wet", "conditioner", "neutraliser")),
    ("Treat", ("treatment",)),
    ("Gauge", ("backing",)),
    ("Bond", ("adhesive",)),
    ("Connect", ("solder", "flux", "wire")),
    ("Protect", ("coating_1", "coating_2", "coating_3")),
)


def answer_text(asked: Asked, shown: str) -> str:
    """Write what is wanted of an answer: short, full, steps, refused, hangs_on."""
    plan = asked.plan
    if shown == "refused":
        return "\n".join(refused_lines(plan)) + "\n"
    if shown == "hangs_on":
        return "\n".join(hanging_lines(plan, asked.hangs_on)) + "\n"
    if shown == "full" or (shown != "short" and not plan.chains):
        return plan_text(plan, asked.resolved, asked.trouble, asked.others)
    if not plan.chains:
        return "\n".join(_refusal(plan, asked.resolved, asked.trouble)) + "\n"
    if shown == "steps":
        return "\n".join(step_lines(plan, plan.chains[0])) + "\n"
    return short_text(plan, asked.resolved, asked.others)


def short_text(plan: Plan, resolved: Resolved, others: Sequence[Alternative]) -> str:
    """Write the answer for a job that has a chain, in no more than MOST_LINES lines."""
    first = plan.chains[0]
    must = must_read(plan, first)
    above, beside = [*_above(plan, resolved, first, others)], [line(plan, other) for other in others]
    most, each = min(MOST_READ, len(must)), 2
    while True:
        lines = [*above, *_below(must[:most], len(must) - most, beside, each)]
        long = sum(told.count("\n") + 1 for told in lines) - MOST_LINES
        if long <= 0 or (most == 0 and each == 1):
            return "\n".join(lines) + "\n"
        if most > FEWEST_READ or each == 1:
            most -= 1
        else:
            each = 1


def _above(plan: Plan, resolved: Resolved, first: Chain, others: Sequence[Alternative]) -> Iterator[str]:
    """Give the answer itself, and what it hangs on."""
    yield from head_lines(plan, resolved)
    yield from (wrapped(note, "Note: ") for note in plan.notes)
    in_time = " Another is in time: see ELSE." if any(is_in_time(plan, other) for other in others) else ""
    yield wrapped(f"{capitalize_first(ready_words(hours_of(plan, first)))}.{in_time}", "READY    ")
    yield from chain_lines(first)
    if why := " ".join(filter(None, (why_first(plan, others), how_sure(plan)))):
        yield clipped(why, "WHY      ", 3)
    if firmly := how_firmly(plan, others):
        yield clipped(firmly, "HOW FIRM ", 2)
    if alike := equals(plan, others):
        yield clipped(f"nothing tells it apart from one with {'; or '.join(alike)}.", "OR       ", 2)
    if hanging := hangs_on(plan, resolved, first):
        yield wrapped(hanging, "HANGS ON ")


def _below(must: Sequence[Finding], more: int, beside: Sequence[str], each: int) -> Iterator[str]:
    """Give so much that must be read, and what else there is, with so many lines for each."""
    if must:
        yield "READ"
        yield from (_told(finding) for finding in must)
    if more:
        yield f"  and {more} more: --full"
    if beside:
        yield "ELSE"
        yield from (clipped(words, "  ", each, 4) for words in beside)
    yield wrapped("Steps: --steps. Refused, and why: --refused. What it hangs on: --hangs-on. All of it: --full.", "")
    yield wrapped(STANDING, "")


def _refusal(plan: Plan, resolved: Resolved, trouble: Trouble | None) -> Iterator[str]:
    """Give the answer for a job without a chain: why, what would help, and what refuses most of what it needs."""
    yield from head_lines(plan, resolved)
    yield from (wrapped(note, "Note: ") for note in plan.notes)
    if trouble is not None:
        yield from trouble_lines(plan, trouble)
    refused = [(item.kind, findings[0]) for item, findings in plan.excluded]
    every = (finding for _, findings in plan.excluded for finding in findings)
    of_the_part = distinct(finding for finding in every if finding.rule.about == ("substrate",))
    if of_the_part:
        yield "THE PART ITSELF"
        for finding in of_the_part[:MOST_READ]:
            yield clipped(message(finding), "  ! ", 2, 4)
            if finding.rule.instead:
                yield wrapped(finding.rule.instead, "    -> ")
        yield ""
    yield "REFUSED MOST OFTEN BY"
    done: set[str] = set()
    for kind in ("backing", "adhesive", "coating"):
        here = [finding.rule for of_kind, finding in refused if of_kind == kind]
        counted = Counter(rule.title for rule in here if "chain" not in rule.about)
        told = [f"{title} ({many} of {len(here)})" for title, many in counted.most_common(MOST_RULES)]
        if told:
            yield wrapped("; ".join(told), f"  {kind:<9}")
            do = next(rule.instead for rule in here if rule.title == counted.most_common(1)[0][0])
            if do and do not in done:
                yield clipped(do, "    -> ", 2)
                done.add(do)
    yield ""
    yield wrapped("All that is refused, and why: --refused. All of the answer: --full.", "")
    yield wrapped(STANDING, "")


def chain_rows(chain: Chain) -> Iterator[tuple[str, list[Entry], str]]:
    """Give what fills the slots of a chain for each part of the work, and how it is cured where it is.

    What is used twice is named once, but for a coat: that is put on twice.
    """
    for lead, slots in _ROWS:
        entries = [entry for slot in slots if (entry := chain.pick(slot).entry) is not None]
        if entries:
            once = list({entry.id: entry for entry in entries}.values())
            yield lead, entries if lead == "Protect" else once, _cure(chain) if lead == "Bond" else ""


def chain_lines(chain: Chain) -> Iterator[str]:
    """Name what fills the slots of a chain, a line for each part of the work."""
    for lead, entries, cure in chain_rows(chain):
        names = [
            name if many == 1 else f"{name}, {many} coats" for name, many in Counter(e.name for e in entries).items()
        ]
        yield wrapped(f"{'; '.join(names)}{cure}", f"{lead:<9}")


def _cure(chain: Chain) -> str:
    cure = chain.cure
    if not cure:
        return ""
    post = (
        f", then {degrees(cure['post_cure_c'])} degC for {duration(cure['post_cure_min'])}"
        if cure.get("post_cure_min")
        else ""
    )
    return f": {duration(cure['duration_min'])} at {degrees(cure['temperature_c'])} degC{post}"


def _told(finding: Finding) -> str:
    """Write one caution in at most two lines: what it says, and what to do."""
    do = f" -> {finding.rule.instead}" if finding.rule.instead else ""
    return clipped(f"{message(finding)}{do}", "  ! ", 2, 4)


def hangs_on(plan: Plan, resolved: Resolved, chain: Chain) -> str:
    """Tell what nobody has said of the part and the chain hangs on."""
    missing = missed_by(resolved, plan.screened.rules)
    unknown = {path for finding in chain.findings for path in finding.unknown if path.startswith("substrate.")}
    if not unknown:
        return ""
    facts = "1 fact" if len(unknown) == 1 else f"{len(unknown)} facts"
    fields = sorted({path.split(".")[1] for path in unknown})
    names = [name if name in missing else name.replace("_", " ") for name in fields]
    return f"{facts} of the part that nobody has given: {', '.join(names[:4])}."
