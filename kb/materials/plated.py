"""A finish on a material that no name of the catalog holds: nickel plated brass, black anodised 6082, varnished oak.

What touches the glue is the finish; what is strained, grows with heat and lies bare once it is cut through is what lies
below. So such a part has the surface of the catalog's finish and the body of the material that was named. Some finishes
lie on any metal; every other only on the like of what the catalog has it on.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import dropwhile
from typing import Any

from kb.base.lexicon import Lexicon
from kb.knowledge import Entry, Knowledge
from kb.materials import classes, identify
from kb.materials.identify import Match


def plated(words: str, knowledge: Knowledge, matches: Sequence[Match] | None = None) -> Entry | dict[str, Any] | None:
    """Describe the part that `words` name as a finish on a material, or find the item that has it on just that one.

    None where they name none, or are themselves the name of an item. `matches` is what they may mean, where that was
    looked for already.
    """
    lexicon = knowledge.lexicon
    atoms = lexicon.atoms(words)
    called = knowledge.tables["layers"]["called"]
    if len(atoms) < 2 or not (lexicon.finishes & {*atoms} or any(_begin(atoms, name.split()) for name in called)):
        return None
    if matches is None:
        matches = identify.identify(words, knowledge, ("substrate",))
    whole = matches[0].entry if matches and identify.clear(matches) else None
    called_so = bool(matches) and matches[0].score == 100
    # Such an item has its own material below; one with a finish that lies on any metal may have another.
    if called_so and whole is not None and whole.facts.get("layer") not in knowledge.tables["layers"]["on_any_metal"]:
        return None
    for finish, body in _parted(atoms, lexicon, called, called_so):
        layers = _finishes(finish, knowledge)
        base = _body(body, knowledge) if layers else None
        if base is None:
            continue
        layers = [one for one in layers if _may_lie(one, base, knowledge)]
        if not layers:
            continue
        if base.family == _family_below(whole, knowledge):
            return None
        # "Painted mild steel": the very metal that the catalog has below, of which no name of that item speaks.
        layer = next((one for one in layers if base.family == _family_below(one, knowledge)), layers[0])
        if layer.facts["base"] == base.id:
            return layer
        return {"like": layer.id, "name": words, **_facts(layer, base, knowledge)}
    return None


def _begin(atoms: Sequence[str], with_: Sequence[str]) -> bool:
    return len(atoms) > len(with_) and [*atoms[: len(with_)]] == [*with_]


def _parted(
    atoms: tuple[str, ...], lexicon: Lexicon, called: Iterable[str], called_so: bool
) -> Iterator[tuple[str, str]]:
    """Part words at the word of a finish: what the finish is, and what it lies on.

    The material may stand first ("brass, nickel plated"), but not where an item is `called_so` ("zinc-nickel plated").
    """
    for name in called:
        if _begin(atoms, said := name.split()):
            yield name, " ".join(atoms[len(said) :])
    for place, atom in enumerate(atoms):
        if atom in lexicon.finishes and place + 1 < len(atoms):
            yield " ".join(atoms[: place + 1]), " ".join(atoms[place + 1 :])
    if not called_so and atoms[-1] in lexicon.finishes:
        for cut in range(len(atoms) - 1, 0, -1):
            yield " ".join(atoms[cut:]), " ".join(atoms[:cut])


def _finishes(words: str, knowledge: Knowledge) -> list[Entry]:
    """List the items that have the finish, the plainest first.

    Words for its looks, before a finish that is known without them, say nothing.
    """
    table = knowledge.tables["layers"]
    bare = " ".join(dropwhile(lambda atom: atom in table["looks"], words.split()))
    words = words if words in table["called"] or bare not in table["called"] else bare
    called = table["called"].get(words)
    matches = identify.identify(words, knowledge, ("substrate",)) if called is None else ()
    found = [knowledge.entry(item) for item in called or ()]
    if matches and matches[0].score >= identify.SURE and matches[0].entry.facts.get("layer") in table["on_any_metal"]:
        found.append(matches[0].entry)
    return [one for one in found if one.facts.get("base")]


def _may_lie(layer: Entry, base: Entry, knowledge: Knowledge) -> bool:
    """Tell whether the finish of an item may lie on a material: on its like, or, as some do, on any metal."""
    on_metal = base.facts.get("metallic") and layer.facts["layer"] in knowledge.tables["layers"]["on_any_metal"]
    return bool(on_metal) or base.family == _family_below(layer, knowledge)


def _body(words: str, knowledge: Knowledge) -> Entry | None:
    """Give the material that is named, or of a class its ordinary member."""
    matches = identify.identify(words, knowledge, ("substrate",))
    named: Entry | classes.Class | None = classes.class_meant(words, knowledge)
    if named is None and matches and identify.clear(matches):
        named = matches[0].entry
    elif named is None:
        from kb.materials.qualified import qualified

        found = qualified(words, knowledge)
        named = found.named if found is not None else None
    if named is None:
        return None
    if isinstance(named, Entry):
        entry = named
    else:
        ordinary = named.get("ordinary")
        entry = knowledge.entry(ordinary) if ordinary else classes.members(named, knowledge)[0]
    return entry if entry.facts.get("layer") == "none" else None


def _family_below(entry: Entry | None, knowledge: Knowledge) -> str:
    """Give the family of the material below an item's finish; "" where it has none."""
    base = entry.facts.get("base") if entry is not None else None
    return knowledge.entry(base).family if base else ""


def _facts(layer: Entry, base: Entry, knowledge: Knowledge) -> dict[str, Any]:
    """Tell what the part has from the material below instead of from the item that has its finish."""
    table = knowledge.tables["layers"]
    body = {name: base.facts[name] for name in table["body"] if name in base.facts}
    told = [name for name in table["lowest"] if name in layer.facts and name in base.facts]
    both = {name: min(layer.facts[name], base.facts[name]) for name in told}
    dust = tuple(dict.fromkeys((*layer.facts.get("dust_hazard", ()), *base.facts.get("dust_hazard", ()))))
    return {**body, **both, "dust_hazard": dust, "base": base.id}
