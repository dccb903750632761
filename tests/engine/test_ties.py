"""Chains that cost the same: in the order that docs/explanation.md states, and at the last place too."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from kb import knowledge as kb_knowledge
from kb.engine.chain import Chain
from kb.engine.plan import Engine
from kb.job import job_of
from kb.knowledge import Entry, Knowledge
from kb.knowledge.tables import RankingTable
from kb.rules.clauses import Clause
from kb.rules.roles import OMITS_OF_SLOT, SLOTS
from kb.rules.rule import Rule
from tests.oracles.evaluate import choices
from tests.oracles.generated import free
from tests.oracles.jobs import random_job


def tied(ranking: RankingTable) -> Knowledge:
    """Two backings, an adhesive with two cures, a degreaser and a coat, of which any may be left out; all for nothing.

    The catalog's order is not that of the alphabet.
    """
    cures = ({"id": "warm", "duration_min": 5}, {"id": "cold", "duration_min": 5})
    items: tuple[tuple[str, str, dict[str, Any]], ...] = (
        ("part", "substrate", {}), ("solvent", "degreaser", {}), ("film", "backing", {}), ("card", "backing", {}),
        ("glue", "adhesive", {"schedules": cures}), ("lead", "wire", {}), ("lacquer", "coating", {}),
    )  # fmt: skip
    entries = {
        name: Entry(name, kind, "f", name, {"id": name, "basis": "memory", **more}) for name, kind, more in items
    }
    when = (Clause("substrate.id", "is", "part"),)
    omissions = [
        Rule(f"omit-{stage}", stage, "prefer", ("substrate",), "", "", "", "memory", (), when, omits=stage)
        for stage in OMITS_OF_SLOT.values()
        if stage != "adhesive"
    ]
    one_coat = Rule(
        "one-coat", "", "block", ("second",), "", "", "", "memory", (), (Clause("second.present", "is", True),)
    )
    return Knowledge(entries, (*omissions, one_coat), {}, {"ranking": free(ranking)}, "tied")


#: An empty slot before a filled one, the first slot in which they differ decides: degreaser, backing, cure, coat.
IN_ORDER = [
    f"{degreaser}{backing} glue/{cure} lead{coat}"
    for degreaser in ("", "solvent ")
    for backing in ("film", "card")
    for cure in ("warm", "cold")
    for coat in ("", " lacquer")
]


def named(chain: Chain) -> str:
    return " ".join(f"{o.id}/{o.cure['id']}" if o.cure else o.id for o in chain.picks if o.entry)


@pytest.mark.parametrize("k", [1, 2, 3, 7, 15, 16, 17])
def test_equals_stand_in_the_order_that_is_stated(k: int, knowledge: Knowledge) -> None:
    job = job_of({"part": {"substrate": "part"}, "service": {"temperature_c": [10, 60]}}, "t")
    tie = tied(knowledge.tables["ranking"])
    chains = Engine(tie).plan(job, tie.entries["part"], top=k).chains
    assert {chain.cost for chain in chains} == {0}
    assert [named(chain) for chain in chains] == IN_ORDER[:k]


def test_on_the_real_knowledge_too_and_whatever_the_last_place(engine: Engine) -> None:
    place = {
        slot: {choice.name: number for number, choice in enumerate(choices(engine.knowledge, slot))} for slot in SLOTS
    }

    def order(chain: Chain) -> tuple[int, ...]:
        picks = zip(SLOTS, chain.picks, strict=True)
        names = ((slot, f"{o.id}/{o.cure['id']}" if o.cure else o.id) for slot, o in picks)
        return (chain.cost, *(place[slot][name] for slot, name in names))

    cut = 0
    for seed in range(12):
        job, part = random_job(seed, engine.knowledge)
        many = engine.plan(job, part, top=80).chains
        orders = [order(chain) for chain in many]
        assert orders == sorted(orders)
        for k in (1, 2, 5, 10, 33):
            few = engine.plan(job, part, top=k).chains
            assert [chain.picks for chain in few] == [chain.picks for chain in many[:k]]
            cut += len(many) > k and many[k - 1].cost == many[k].cost
    assert cut > 10, "the last place falls among equals"


def test_the_order_of_the_catalog_is_by_file_with_the_labs_own_last(house: Path) -> None:
    folder = house / "catalog" / "backing"
    folder.mkdir()
    for name in ("aa-own", "zz-own"):
        (folder / f"{name}.toml").write_text(
            f'id = "{name}"\nname = "{name}"\nlike = "polyimide-film-encapsulated"\nbasis = "memory"\n'
        )
    known = kb_knowledge.load(house)
    for kind, entries in known.by_kind.items():
        shipped = [f"{entry.id}.toml" for entry in entries if not entry.facts.get("house")]
        assert shipped == sorted(shipped), kind
    assert [entry.id for entry in known.by_kind["backing"]][-2:] == ["aa-own", "zz-own"]
