"""The answer to `plan` for a terminal: the chain first, then why, steps, cautions, and what was refused."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from kb.base.units import degrees
from kb.engine.chain import Chain
from kb.engine.plan import Plan
from kb.materials.resolve import Resolved, missed_by
from kb.planning.gauge import wanted_of_gauge
from kb.planning.procedure import procedure
from kb.quantities.layout import hours_of
from kb.report.reading import must_know
from kb.report.ready import ready_words
from kb.report.text import STANDING, days, wrapped
from kb.rules.findings import Finding
from kb.rules.roles import OMITS_OF_SLOT, SLOTS
from kb.rules.words import duration, message, shown

if TYPE_CHECKING:
    # Only where there is no chain: a plan that has one doesn't load the search for conflicts.
    from kb.engine.conflict import Trouble
    from kb.planning.alternatives import Alternative


def plan_text(plan: Plan, resolved: Resolved, trouble: Trouble | None, others: Sequence[Alternative] = ()) -> str:
    """Give the whole answer as lines of text."""
    lines = list(head_lines(plan, resolved))
    if plan.chains:
        first = plan.chains[0]
        lines += [*_chain(plan, first), ""]
        lines += [*_why_first(plan, others), ""]
        lines += ["STEPS", *step_lines(plan, first), ""]
        lines += list(_gauge(plan))
        lines += list(_read_this(plan, first))
        lines += [*_alternatives(plan, others), *_next_best(plan)]
    elif trouble is not None:
        lines += list(trouble_lines(plan, trouble))
    if resolved.how == "described":
        from kb.report.described import described_text

        lines += described_text(plan, resolved).splitlines()
    lines += list(refused_lines(plan))
    lines += [*(wrapped(note, "Note: ") for note in plan.notes), wrapped(STANDING, "")]
    return "\n".join(lines) + "\n"


def head_lines(plan: Plan, resolved: Resolved) -> Iterator[str]:
    """Say which job is answered, as it was understood."""
    service, part = plan.job.service, plan.job.part
    yield wrapped(plan.job.job.name, "")
    yield wrapped(f"{resolved.entry.name}{_how_found(resolved)}", "Part:    ")
    left = (plan.screened.scene["substrate"] or {}).get("name")
    if left != plan.substrate.name:
        yield wrapped(f"planned as {left}", "         ")
    low, high = service.temperature_c
    peak = (
        f", peak {degrees(service.peak.temperature_c)} degC for {shown(service.peak.duration_h)} h"
        if service.peak
        else ""
    )
    asked = (
        f"{degrees(low)} to {degrees(high)} degC{peak}, {', '.join(service.exposures)}, "
        f"{days(service.duration_days)}, {service.measurement}, "
        f"surface {', '.join(part.surface)}, clamping {part.clamping}"
        f"{_oven(plan)}{', not to be abraded' if part.no_abrading else ''}"
        f"{', to come off again' if plan.job.limits.removable else ''}"
    )
    yield wrapped(asked, "Service: ")
    unknown = missed_by(resolved, plan.screened.rules)
    if unknown:
        yield wrapped(", ".join(unknown), "Not known of the part: ")
    yield ""


def _oven(plan: Plan) -> str:
    """Tell that no oven takes the part, and where nobody said so, what that is taken from."""
    part = plan.job.part
    if part.no_oven is None and (plan.screened.scene["part"] or {})["no_oven"]:
        return f", {part.orientation} and so taken for a part that no oven takes (if one does: part.no_oven = false)"
    return ", no oven" if part.no_oven else ""


def _how_found(resolved: Resolved) -> str:
    """Tell how the part's material was found, in brackets; nothing for an id."""
    if resolved.how == "id" and not resolved.assumed:
        return ""
    told = "".join(f"; {said}" for said in resolved.said_of_the_rest())
    if resolved.members:
        ends = f"any of {', '.join(resolved.members)}, at their cautious end"
        return f" (you wrote '{resolved.query}': {ends}{told})"
    if resolved.how == "described":
        return " (as described)"
    if resolved.assumed:
        facts = resolved.entry.facts
        taken = ", ".join(
            f"{name} {shown(facts[name])} ({' to '.join(map(shown, facts['ranges'][name]))})"
            for name in resolved.assumed
        )
        return f" (you wrote '{resolved.query}'{told}; how much is in it, that does not say: taken as {taken})"
    return f" (you wrote '{resolved.query}': {resolved.how}, {resolved.score:.0f} of 100{told})"


def _hangs(chain: Chain) -> Iterator[str]:
    """Tell how many facts that nobody has given the chain hangs on: said before it, for who reads no further."""
    unknown = {path for finding in chain.findings for path in finding.unknown if path.startswith("substrate.")}
    if unknown:
        facts = "1 fact of the part that is" if len(unknown) == 1 else f"{len(unknown)} facts of the part that are"
        yield wrapped(
            f"{facts} not known. Find them out first (see NOT KNOWN OF THE PART), or try it on an offcut.",
            "  HANGS ON ",
        )


def _chain(plan: Plan, chain: Chain) -> Iterator[str]:
    yield wrapped(ready_words(hours_of(plan, chain)), f"CHAIN {chain.rank}   ")
    yield from _hangs(chain)
    omitted = {f.rule.omits: f for f in chain.findings if f.rule.omits}
    for slot, place in SLOTS.items():
        option = chain.pick(slot)
        if option.entry is not None:
            grade = f" [{_scale(option.entry.facts)}]" if option.entry.kind == "abrasive" else ""
            yield wrapped(f"{option.entry.name}{grade}", f"  {place.lead:<16} ")
            if slot == "adhesive":
                cure = chain.cure
                post = (
                    f", then {degrees(cure['post_cure_c'])} degC for {duration(cure['post_cure_min'])}"
                    if cure.get("post_cure_min")
                    else ""
                )
                yield (
                    f"  {'Cure':<16} {duration(cure['duration_min'])} at {degrees(cure['temperature_c'])} degC{post}; "
                    f"full strength after {duration(cure['full_strength_min'])}"
                )
        elif (finding := omitted.get(OMITS_OF_SLOT.get(slot, ""))) is not None:
            lead = "Coat" if place.kind == "coating" else place.lead
            yield wrapped(f"nothing: {message(finding)} [{finding.rule.id}]", f"  {lead:<16} ")


def _scale(facts: object) -> str:
    known = dict(facts)  # type: ignore[call-overload]
    if known.get("scale") in (None, "none"):
        return str(known.get("form", ""))
    mean = f", mean grain {shown(known['mean_um'])} um" if "mean_um" in known else ""
    return f"{known['scale'].upper()} {known['grade']}{mean}"


def _why_first(plan: Plan, others: Sequence[Alternative]) -> Iterator[str]:
    from kb.report.first import equals, why_words

    yield "WHY THIS ONE"
    if why := why_words(plan, others):
        yield wrapped(why, "  ", 2)
    if alike := equals(plan, others):
        yield wrapped(f"Nothing tells it apart from one with {'; or '.join(alike)}.", "  ", 2)


def step_lines(plan: Plan, chain: Chain) -> Iterator[str]:
    """List the steps by number, stage by stage, each with its wait, its reason and what must and must never be."""
    stage = ""
    for number, step in enumerate(procedure(plan, chain), start=1):
        if step.stage != stage:
            stage = step.stage
            yield f"  {stage.upper()}"
        yield wrapped(step.do, f"  {number:>3}. ")
        if step.wait_s:
            yield f"       WAIT {duration(step.wait_s / 60)}" + (f" ({step.wait_for})" if step.wait_for else "")
        if step.because:
            yield wrapped(step.because, "       why:   ")
        for line in step.must:
            yield wrapped(line, "       must:  ")
        for line in step.never:
            yield wrapped(line, "       never: ")


def _basis(finding: Finding) -> str:
    sources = f": {', '.join(finding.rule.sources)}" if finding.rule.sources else ""
    return f"{finding.rule.basis}{sources}"


def _gauge(plan: Plan) -> Iterator[str]:
    """Tell what to ask of the gauge itself, topic by topic."""
    wanted = wanted_of_gauge(plan)
    if wanted:
        yield "THE GAUGE ITSELF: ask for"
    for finding in wanted:
        yield wrapped(f"{finding.rule.title}: {message(finding)} [{finding.rule.id}; {_basis(finding)}]", "  - ", 4)
        yield wrapped(finding.rule.because, "    ", 4)
    if wanted:
        yield ""


def _read_this(plan: Plan, chain: Chain) -> Iterator[str]:
    findings = must_know(plan, chain)
    if not findings:
        return
    yield "READ THIS"
    for finding in findings:
        yield wrapped(f"{message(finding)} [{finding.rule.id}; {_basis(finding)}]", f"  {finding.verdict}: ", 4)
        yield wrapped(finding.rule.because, "    ", 4)
        for name, _, result, value in finding.calculations:
            yield f"    {name}: {result} = {shown(float(value)) if isinstance(value, (int, float)) else value}"
    yield ""


def _alternatives(plan: Plan, others: Sequence[Alternative]) -> Iterator[str]:
    if not others:
        return
    from kb.report.others import line

    yield "ELSE"
    yield from (wrapped(line(plan, other), "  - ", 4) for other in others)
    yield ""


def _next_best(plan: Plan) -> Iterator[str]:
    """Give the further chains by what they have that the first has not."""
    if len(plan.chains) < 2:
        return
    from kb.report.first import unlike

    yield "NEXT BEST, each like the first but for"
    for chain in plan.chains[1:]:
        ready = duration(hours_of(plan, chain).ready_after_min)
        yield wrapped(f"{unlike(plan.chains[0], chain)}; ready after {ready}", f"  {chain.rank}. ", 5)
    yield ""


def trouble_lines(plan: Plan, trouble: Trouble) -> Iterator[str]:
    """Say that there is no chain, what can't all be met, and what would help."""
    from kb.report.first import how_sure
    from kb.report.trouble import conflict_words, relaxation_words

    yield "NO CHAIN"
    yield wrapped(conflict_words(trouble), "  ", 2)
    if trouble.relaxations:
        yield "  What would help, least first:"
        for relaxation in trouble.relaxations:
            yield wrapped(relaxation_words(relaxation), "  - ", 4)
    elif trouble.complete:
        yield "  No change of up to three of the job's requirements would help."
    if sure := how_sure(plan):
        yield wrapped(sure, "  ", 2)
    elif not trouble.complete:
        yield f"  Stopped after {trouble.plans} jobs were tried, the most that is allowed: more may help."
    yield ""


def refused_lines(plan: Plan) -> Iterator[str]:
    """List what was refused, by kind and by the rule that closed it."""
    groups: dict[tuple[str, str], list[str]] = {}
    said: dict[str, Finding] = {}
    for item, findings in plan.excluded:
        finding = findings[0]
        groups.setdefault((item.kind, finding.rule.id), []).append(item.name)
        said.setdefault(finding.rule.id, finding)
    if not groups:
        return
    yield "REFUSED (each with its first reason; --json holds them all)"
    kind = ""
    for (of_kind, rule), names in sorted(groups.items(), key=lambda g: (_order(g[0][0]), g[0][1])):
        if of_kind != kind:
            kind = of_kind
            yield f"  {kind}"
        shown_names = "; ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")
        doubt = " (recalled)" if said[rule].on_memory else ""
        yield wrapped(f"{said[rule].rule.title} [{rule}]{doubt}: {shown_names}", "    - ", 6)
    yield ""


def _order(kind: str) -> int:
    from kb.base.vocabulary import KINDS

    return KINDS.index(kind)
