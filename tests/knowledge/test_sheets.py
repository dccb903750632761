"""A house item from its sheet: the form names what decides, what is filled in holds, and one file carries it."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner

from kb import knowledge as kb_knowledge
from kb.base.errors import BadInput
from kb.base.places import shipped
from kb.cli.program import program
from kb.knowledge import Knowledge
from kb.knowledge.catalog import Item
from kb.knowledge.catalog.files import load_items
from kb.knowledge.sheets import MOST, deciding, form, give, take

LACQUER = "acrylic-lacquer-alcohol-borne"


@pytest.fixture(scope="module")
def base() -> dict[str, Item]:
    return {item.id: item for _, item, _ in load_items(shipped()[1])}


@pytest.mark.parametrize("kind", ["substrate", "degreaser", "adhesive", "coating", "backing"])
def test_the_form_is_toml_as_it_is_and_filled_in(knowledge: Knowledge, kind: str) -> None:
    entry = knowledge.by_kind[kind][0]
    text = form(entry, knowledge)
    assert tomllib.loads(text)["items"][0]["like"] == entry.id
    filled = tomllib.loads(re.sub(r"(?m)^# (\w+ = (?!\?))", r"\1", text))["items"][0]
    told = [name for name, _ in deciding(entry, knowledge) if name in entry.facts]
    assert {name: entry.facts[name] for name in told} == {name: filled[name] for name in told}
    counts = [count for _, count in deciding(entry, knowledge)]
    assert counts == sorted(counts, reverse=True)
    assert 0 < len(counts) <= MOST


def test_what_the_sheet_says_holds_and_the_rest_is_as_the_class_has_it(
    knowledge: Knowledge, base: dict[str, Item], tmp_path: Path
) -> None:
    file, lab, other = tmp_path / "form.toml", tmp_path / "lab", tmp_path / "other"
    file.write_text(form(knowledge.entry(LACQUER), knowledge) + 'full_cure_min = 90\nresists = { steam = "fair" }\n')
    (ours,) = take(file, lab, base)
    facts = kb_knowledge.load(lab).entry(ours).facts
    assert (facts["full_cure_min"], facts["max_c"], facts["resists.steam"]) == (90.0, 80.0, "fair")
    traded = tmp_path / "traded.toml"
    traded.write_text(give([ours], lab))
    assert take(traded, other, base) == [ours]
    assert kb_knowledge.load(other).entry(ours).facts == facts
    with pytest.raises(BadInput, match="is there already; add --again"):
        take(traded, other, base)
    assert take(traded, other, base, again=True) == [ours]


def test_all_or_none(base: dict[str, Item], tmp_path: Path) -> None:
    good = f'[[items]]\nkind = "coating"\nid = "ours"\nname = "ours"\nlike = "{LACQUER}"\n'
    for bad, said in [
        ('max_c = "hot"\n', "max_c"),
        ("max_d = 3\n", "max_d"),
        (good.replace('"ours"', f'"{LACQUER}"'), "is another item's"),
        (good.replace("coating", "coatting"), "did you mean 'coating'"),
        (good.replace(LACQUER, "acrylic-laquer"), "like: there is no coating"),
    ]:
        file = tmp_path / "items.toml"
        file.write_text(good + bad)
        with pytest.raises(BadInput) as refused:
            take(file, tmp_path / "lab", base)
        assert said in str(refused.value)
        assert not (tmp_path / "lab").exists()
    (tmp_path / "items.toml").write_text("x = 1\n")
    with pytest.raises(BadInput, match=r"holds no \[\[items\]\]"):
        take(tmp_path / "items.toml", tmp_path / "lab", base)
    with pytest.raises(BadInput, match="is no item of the house"):
        give(["ours"], tmp_path / "lab")


def test_the_commands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TACKROOM_WORKSPACE", str(tmp_path))

    def run(*words: str) -> str:
        done = CliRunner().invoke(program(words), words)
        assert done.exit_code == 0, done.output
        return done.stdout

    file = tmp_path / "form.toml"
    file.write_text(run("item", "form", LACQUER))
    assert f"our-{LACQUER}" in run("item", "take", str(file))
    assert run("item", "give", f"our-{LACQUER}").startswith("[[items]]")
