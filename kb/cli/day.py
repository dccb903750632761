"""The commands `estimate` and `bench`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from kb.base.errors import ACT
from kb.cli.common import AsJson, Workspace, job_in, print_json, print_text
from kb.cli.planned import planned

JobFile = Annotated[Path, typer.Argument(help="The job file (TOML).")]
ChainRank = Annotated[int, typer.Option("--chain", min=1, max=1000, help="Which chain of the plan, by rank.")]


def learned_yield(plan: Any, chain: Any, workspace: Path | None) -> Any:
    """What the lab's record says of the chain's yield; None where nothing of it was recorded."""
    if frozenset(chain.named.items()) not in plan.yields:
        return None
    from kb.cli.stock_common import open_ledger
    from kb.work.installations import yield_of

    return yield_of(open_ledger(workspace), chain.named, plan.job.batch.expected_yield)


def estimate(job: JobFile, chain: ChainRank = 1, as_json: AsJson = False, workspace: Workspace = None) -> None:
    """Say what to bring: attempts, amounts and packs, mixes, the room's air, and waste."""
    from kb.quantities.estimate import estimate as reckon
    from kb.report.estimate import estimate_json, estimate_text

    asked = planned(job, workspace, chain)
    chosen = asked.chain(chain)
    learned = learned_yield(asked.plan, chosen, workspace)
    found = reckon(asked.plan, chosen)
    if learned:
        from kb.report.trace import yield_json, yield_text

    if as_json:
        print_json(estimate_json(found) | ({"learned_yield": yield_json(learned)} if learned else {}))
    else:
        print_text(estimate_text(found) + (f"\n{yield_text(learned)}\n" if learned else ""))
    if found.acts:
        raise typer.Exit(ACT)


def bench(
    job: JobFile,
    chain: ChainRank = 1,
    activated_h: Annotated[
        float | None, typer.Option("--activated-h", help="Hours since the surface was treated (etched, primed, …).")
    ] = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Say whether the work may be done in the room as it is now: go, wait or stop, and what to change."""
    from kb.quantities.bench import fitness, ordinary
    from kb.report.bench import bench_json, bench_text

    today = job_in(job)
    asked = planned(job, workspace, chain, ordinary)
    found = fitness(asked.engine, today, asked.resolved.entry, asked.chain(chain), activated_h)
    print_json(bench_json(found)) if as_json else print_text(bench_text(found))
    if found.verdict != "go":
        raise typer.Exit(ACT)
