"""The commands `estimate` and `bench`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from kb.base.errors import ACT, BadInput
from kb.cli.common import AsJson, OnDay, Workspace, job_in, print_json, print_text, today, workspace_folder
from kb.cli.planned import day_of, planned

JobFile = Annotated[Path, typer.Argument(help="The job file (TOML).")]
ChainRank = Annotated[int, typer.Option("--chain", min=1, max=1000, help="Which chain of the plan, by rank.")]


def learned_yield(plan: Any, chain: Any, workspace: Path | None) -> Any:
    """Tell what the lab's record says of the chain's yield; None where nothing of it was recorded."""
    if frozenset(chain.named.items()) not in plan.yields:
        return None
    from kb.cli.stock_common import open_ledger
    from kb.work.installations import yield_of

    return yield_of(open_ledger(workspace), chain.named, plan.job.batch.expected_yield)


def estimate(
    job: JobFile,
    chain: ChainRank = 1,
    order: Annotated[bool, typer.Option("--order", help="What to buy: less what the shelf has, in packs.")] = False,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="Write the amounts, or the order, as a table: .csv or .xlsx.")
    ] = None,
    on: OnDay = None,
    as_json: AsJson = False,
    workspace: Workspace = None,
) -> None:
    """Say what to bring: attempts, amounts and packs, what they cost, mixes, the room's air, waste; or what to buy."""
    from kb.cli.files import put_table
    from kb.quantities.estimate import estimate as reckon
    from kb.report.costs import costs_json, estimate_table
    from kb.report.estimate import estimate_json, estimate_text
    from kb.stock.supplies import Supplies
    from kb.work.costing import costs_of, in_own_packs

    if on and not order:
        raise BadInput("--on", "is for --order", "add --order, or leave it out")
    asked = planned(job, workspace, chain)
    chosen = asked.chain(chain)
    supplies = Supplies.load(workspace_folder(workspace))
    found = in_own_packs(reckon(asked.plan, chosen), supplies.by_item)
    if order:
        _order(asked, found, supplies, output, on, as_json, workspace)
        return
    costs = costs_of(found, supplies.by_item, supplies.currency)
    learned = learned_yield(asked.plan, chosen, workspace)
    if learned:
        from kb.report.trace import yield_json, yield_text

    if output is not None:
        put_table(estimate_table(found, costs), output, "amounts")
    if as_json:
        more = {"learned_yield": yield_json(learned)} if learned else {}
        print_json(estimate_json(found) | {"cost": costs_json(costs)} | more)
    elif output is None:
        print_text(estimate_text(found, costs) + (f"\n{yield_text(learned)}\n" if learned else ""))
    if found.acts:
        raise typer.Exit(ACT)


def _order(
    asked: Any, work: Any, own: Any, output: Path | None, on: str | None, as_json: bool, workspace: Path | None
) -> None:
    """Print what is to be bought, or write it to a file. Exit status 1 where anything is."""
    from kb.cli.files import put_table
    from kb.cli.stock_common import open_items, open_ledger
    from kb.report.order import order_json, order_table, order_text
    from kb.stock.products import Products
    from kb.work.ordering import order_for
    from kb.work.reserving import reserved_in

    name, ledger = asked.job.job.name, open_ledger(workspace)
    folder, day = workspace_folder(workspace), day_of(asked.job, on)
    products = Products.load(folder).by_gtin.values()
    others, facts = reserved_in(ledger, apart_from=name), open_items(workspace, ledger).facts
    found = order_for(work, ledger.shelf(), facts, day, others, products, own.by_item, own.currency)
    if output is not None:
        put_table(order_table(found), output, "order")
    if as_json:
        print_json(order_json(found, name))
    elif output is None:
        print_text(order_text(found, today()))
    if found.to_buy:
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

    as_it_is = job_in(job)
    asked = planned(job, workspace, chain, ordinary)
    here = planned(job, workspace, chain, engine=asked.engine).ranked(chain)
    found = fitness(asked.engine, as_it_is, asked.resolved.entry, asked.chain(chain), activated_h, here)
    print_json(bench_json(found)) if as_json else print_text(bench_text(found))
    if found.verdict != "go":
        raise typer.Exit(ACT)
