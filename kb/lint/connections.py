"""Check that every wire finds a joint, every joint a flux, and every flux what takes it off."""

from __future__ import annotations

from collections.abc import Iterator

from kb.base.vocabulary import FAMILIES
from kb.knowledge.catalog import Flux, Solder, Wire
from kb.lint.tree import Tree, of_item, of_item_in_tree

#: How far below its wire's limit the hottest joint may give up [degC].
_JOINT_SLACK_C = 20.0


@of_item_in_tree("wire-without-joint", Wire, tip="add a joint for its conductor, or lower its limit")
def wire_without_joint(item: Wire, tree: Tree) -> Iterator[str]:
    """Wires that no joint lasts as hot as they do; what is made up with its gauge needs none."""
    joints = [j for j in tree.items.values() if isinstance(j, Solder) and item.conductor in j.joins]
    hottest = max((joint.max_c for joint in joints), default=None)
    if not item.sealed and (hottest is None or hottest < item.max_c - _JOINT_SLACK_C):
        yield f"serves to {item.max_c:g} degC, its hottest joint to {'none' if hottest is None else f'{hottest:g}'}"


@of_item_in_tree("joint-without-flux", Solder, tip="add a flux, or take the conductor out of `joins`")
def joint_without_flux(item: Solder, tree: Tree) -> Iterator[str]:
    """Solders that no flux helps on to a conductor at the heat of the iron."""
    fluxes = [flux for flux in tree.items.values() if isinstance(flux, Flux)]
    for conductor in item.joins if item.needs_flux else ():
        if not any(conductor in f.acts_on and f.active_to_c >= item.joint_at_c for f in fluxes):
            yield f"no flux acts on {conductor} at {item.joint_at_c:g} degC"


@of_item("flux-remover", Flux, tip="name degreaser families, or water")
def flux_remover(item: Flux) -> Iterator[str]:
    """Fluxes that are taken off with what doesn't exist."""
    for word in item.removed_with:
        if word != "water" and word not in FAMILIES["degreaser"]:
            yield f"removed_with: '{word}' is neither water nor a family of degreaser"


LINTERS = (wire_without_joint, joint_without_flux, flux_remover)
