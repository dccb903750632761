"""Catalog items: one model per kind, and how a TOML file becomes one.

An item is a generic member of a family: class values, never a product. A field that is left out is
unknown, and rules treat it so; a field that can't apply is left out too, and the rules that would read it
first ask whether it can (a metal has no solubility parameters, and `organic = false` says so).

A lab's own item may start from a catalog item: `like = "generic-id"` takes over every field that it
doesn't give itself.
"""

from __future__ import annotations

from kb.knowledge.catalog.base import Item, Mixture, as_facts
from kb.knowledge.catalog.bond import Adhesive, Backing, Coating, Schedule
from kb.knowledge.catalog.connect import Flux, Solder, Wire
from kb.knowledge.catalog.supply import Aid, ExposureLimit, Source, Substance
from kb.knowledge.catalog.surface import Abrasive, Conditioner, Degreaser, Neutraliser, Substrate, Treatment

__all__ = [
    "MODELS", "Abrasive", "Adhesive", "Aid", "Backing", "Coating", "Conditioner", "Degreaser", "ExposureLimit", "Flux",
    "Item", "Mixture", "Neutraliser", "Schedule", "Solder", "Source", "Substance", "Substrate", "Treatment", "Wire",
    "as_facts",
]  # fmt: skip

#: The model of each kind, in the order in which a chain meets them.
MODELS: dict[str, type[Item]] = {
    model.kind: model
    for model in (
        Substrate,
        Degreaser,
        Abrasive,
        Conditioner,
        Neutraliser,
        Treatment,
        Backing,
        Adhesive,
        Solder,
        Flux,
        Wire,
        Coating,
        Aid,
        Substance,
    )
}
