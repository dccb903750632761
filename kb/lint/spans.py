"""Check what every kind of item has: ranges and their cautious ends, spans, lives, ratings, names and bases."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from kb.base.vocabulary import EXPOSURES, FAMILIES
from kb.knowledge.catalog import MODELS, Adhesive, Backing, Coating, Item, Substrate, Wire
from kb.knowledge.derive import SPANS
from kb.lint.tree import Found, Linter, Tree, of_item, of_item_in_tree
from kb.materials.identify import folded

_DAYS_PER_MONTH = 31
#: So short a sentence tells a technician nothing.
_LEAST_SUMMARY = 15
_LEAST_ALIASES = 3
#: How much below a material's own figure the low end of its range may lie: hours of cure, not years, are meant.
_LEAST_HEAT_SHARE = 0.8


def cautious_ends(model: type[Item]) -> dict[str, str]:
    """Tell which end of its range each field of a model holds, where that is fixed."""
    ends = {}
    for name, field in model.model_fields.items():
        extra = field.json_schema_extra
        if isinstance(extra, Mapping) and "cautious" in extra:
            ends[name] = str(extra["cautious"])
    return ends


_ENDS = {model: cautious_ends(model) for model in MODELS.values()}


@of_item("cautious-end", Item, tip="the field holds the cautious end of its own range")
def cautious_end(item: Item) -> Iterator[str]:
    """Fields that hold the bold end of their range, or something between."""
    for name, (low, high) in item.ranges.items():
        end = _ENDS[type(item)].get(name)
        value = getattr(item, name)
        if end is not None and value != (low if end == "low" else high):
            yield f"{name} is {value:g}, the {end} end of its range is {low if end == 'low' else high:g}"


@of_item("heat-range", Substrate, tip="take the lower figure, or narrow the range to what hours of cure do")
def heat_range(item: Substrate) -> Iterator[str]:
    """Materials whose class stands far less heat than the figure says."""
    if "max_temperature_c" in item.ranges and item.max_temperature_c is not None:
        low = item.ranges["max_temperature_c"][0]
        if low < _LEAST_HEAT_SHARE * item.max_temperature_c:
            yield f"max_temperature_c is {item.max_temperature_c:g}, its range begins at {low:g}"


@of_item("span-upwards", Item, tip="write [low, high]")
def span_upwards(item: Item) -> Iterator[str]:
    """Spans that run downwards or are a single point."""
    spans = [(name, getattr(item, name, None)) for name in SPANS]
    if isinstance(item, Adhesive):
        spans += [(f"pressure_kpa of {s.id}", s.pressure_kpa) for s in item.schedules]
    for name, span in spans:
        if span is not None and not span[0] < span[1]:
            yield f"{name} runs from {span[0]:g} to {span[1]:g}"


@of_item("opened-life", Item, tip="what is opened keeps no longer than what is closed")
def opened_life(item: Item) -> Iterator[str]:
    """Find items that keep longer opened than closed."""
    opened, closed = getattr(item, "opened_life_days", None), getattr(item, "shelf_life_months", None)
    if opened is not None and closed is not None and opened > closed * _DAYS_PER_MONTH:
        yield f"keeps {opened:g} days opened and {closed:g} months closed"


@of_item("unrated-exposure", Adhesive, Backing, Coating, Wire, tip="rate it good, fair or poor", shipped=True)
def unrated_exposure(item: Adhesive | Backing | Coating | Wire) -> Iterator[str]:
    """Exposures of which an item says nothing."""
    missing = [exposure for exposure in EXPOSURES if exposure not in item.resists]
    if missing:
        yield f"is not rated for {', '.join(missing)}"


@of_item("basis-without-value", Item, tip="take the name out of field_basis, or give the value")
def basis_without_value(item: Item) -> Iterator[str]:
    """Bases of values that aren't there."""
    for row in item.field_basis:
        for name in row.fields:
            if getattr(item, name.partition(".")[0], None) is None:
                yield f"{name} has a basis and no value"


@of_item("summary", Item, tip="say in a sentence what it is good for", shipped=True)
def summary(item: Item) -> Iterator[str]:
    """Find items that don't say in a sentence what they are for."""
    if len(item.summary) < _LEAST_SUMMARY or not item.summary.rstrip().endswith((".", "!")):
        yield "its summary is no sentence"


@of_item("few-names", Substrate, tip="add what people type", shipped=True)
def few_names(item: Substrate) -> Iterator[str]:
    """Materials that can hardly be found."""
    if len(item.aliases) < _LEAST_ALIASES:
        yield f"has {len(item.aliases)} other names"


@of_item("alias-form", Item, tip="write each name once, without blanks around it")
def alias_form(item: Item) -> Iterator[str]:
    """Give the names that are empty, padded or repeated."""
    for alias in item.aliases:
        if alias != alias.strip() or not any(c.isalnum() for c in alias) or item.aliases.count(alias) > 1:
            yield f"its alias {alias!r} is padded, empty or repeated"


@of_item_in_tree("unknown-relative", Substrate, tip="name an item of the kind substrate")
def unknown_relative(item: Substrate, tree: Tree) -> Iterator[str]:
    """Materials that lie on, or look like, what the catalog doesn't hold, or themselves."""
    for other in (*item.looks_like, *([item.base] if item.base is not None else [])):
        if other == item.id or not isinstance(tree.items.get(other), Substrate):
            yield f"lies on or looks like '{other}', which is no other material of the catalog"


def _class_word_alias(tree: Tree) -> Found:
    """Give words for a whole class of materials that name a single one."""
    words = tree.tables["words"]
    classes = {folded(word) for table in ("classes", "several") for row in words[table] for word in row["words"]}
    for item in tree.items.values():
        for alias in item.aliases if isinstance(item, Substrate) else ():
            if folded(alias) in classes:
                yield item.id, f"'{alias}' means a whole class of materials"


def _empty_family(tree: Tree) -> Found:
    """Families without a member."""
    held = {(entry.kind, entry.family) for entry in tree.entries.values()}
    for kind, families in FAMILIES.items():
        for family in families:
            if (kind, family) not in held:
                yield f"{kind}/{family}", "has no member"


def _foreign_family(tree: Tree) -> Found:
    """Find lists of families with a word that is none."""
    lists: tuple[tuple[str, str, str], ...] = (
        ("coating", "sticks_over", "coating"), ("coating", "holds_little_over", "coating"),
        ("treatment", "treats", "substrate"), ("treatment", "serves", "adhesive"),
        ("backing", "bonds_with", "adhesive"), ("backing", "bonds_also_with", "adhesive"),
    )  # fmt: skip
    for kind, name, of in lists:
        for item in tree.items.values():
            words: Any = getattr(item, name, None) if item.kind == kind else None
            for word in words or ():
                if word not in FAMILIES[of]:
                    yield item.id, f"{name}: '{word}' is no family of {of}"


empty_family = Linter("empty-family", "tree", "add an item of it", _empty_family)
class_word_alias = Linter("class-word-alias", "tree", "take it out of the item's aliases", _class_word_alias)
foreign_family = Linter("foreign-family", "tree", "use a family of kb/base/vocabulary.py", _foreign_family)

LINTERS = (
    cautious_end, heat_range, span_upwards, opened_life, unrated_exposure, basis_without_value, summary, few_names,
    alias_form, unknown_relative, class_word_alias, empty_family, foreign_family,
)  # fmt: skip
