"""Check the constants, codes and limits of substances against one another."""

from __future__ import annotations

from collections.abc import Iterator
from math import exp

from kb.calc.vapour import ppm
from kb.knowledge.catalog import Substance
from kb.knowledge.mixtures import flammable
from kb.lint.tree import Tree, of_item, of_item_in_tree

_ATMOSPHERE_KPA = 101.325
_ROOM_K = 293.15
#: Trouton's rule: entropy of boiling over the gas constant.
_TROUTON = 10.6
#: It brings most liquids within five times of their vapour pressure, glycol ethers within eight.
_TROUTON_FACTOR = 8.0
#: Published flash points differ by several degrees and the lowest is taken: hence the margin.
_SATURATED_MARGIN = 0.85
#: Molar volume between those of the lists [L/mol]; old lists round by up to a quarter.
_LIST_L_MOL, _LIST_ROUNDING = 24.25, 0.25


@of_item("registry-number", Substance, tip="copy the number again")
def registry_number(item: Substance) -> Iterator[str]:
    """Registry numbers whose check digit is wrong."""
    if item.cas is None:
        return
    *digits, check = (int(c) for c in item.cas if c != "-")
    if sum(place * digit for place, digit in enumerate(reversed(digits), start=1)) % 10 != check:
        yield f"{item.cas} has a wrong check digit"


@of_item("substance-bounds", Substance, tip="a unit or a decimal point slipped")
def substance_bounds(item: Substance) -> Iterator[str]:
    """Constants outside what any substance of the trade has."""
    bounds = (
        ("molar_mass_g_mol", item.molar_mass_g_mol, 2, 2000),
        ("density_g_ml", item.density_g_ml, 0.5, 23),
        ("lel_pct", item.lel_pct, 0.3, 16),
    )
    for name, value, low, high in bounds:
        if value is not None and not low <= value <= high:
            yield f"{name} is {value:g}"


@of_item("vapour-and-boiling", Substance, tip="one of the two is wrong, or its unit")
def vapour_and_boiling(item: Substance) -> Iterator[str]:
    """Solvents whose vapour pressure and boiling point don't go together."""
    pressure, boils = item.vapour_pressure_kpa, item.boiling_point_c
    if pressure is None or boils is None or item.family != "solvent":
        return
    estimate = _ATMOSPHERE_KPA * exp(_TROUTON * (1 - (boils + 273.15) / _ROOM_K))
    if not estimate / _TROUTON_FACTOR < pressure < estimate * _TROUTON_FACTOR:
        yield f"{pressure:g} kPa at 20 degC and boiling at {boils:g} degC (about {estimate:.2g} kPa by Trouton's rule)"


@of_item_in_tree("fire-statement", Substance, tip="the flash point decides, unless the harmonised entry says otherwise")
def fire_statement(item: Substance, tree: Tree) -> Iterator[str]:
    """Codes of flammable liquids that flash and boiling point don't ask for, or that they ask for and that lack."""
    fire = tree.tables["mixtures"]["fire"]
    said = set(item.hazard_statements) & set(fire["statements"])
    asked = {flammable(item.flash_point_c, item.boiling_point_c, fire)} - {None}
    if said != asked:
        says, asks = (", ".join(sorted(map(str, codes))) or "nothing" for codes in (said, asked))
        yield f"says {says} of fire, its flash point asks for {asks}"


@of_item("explosive-limit", Substance, tip="a flash point is where the air above becomes explosive")
def explosive_limit(item: Substance) -> Iterator[str]:
    """Solvents that flash below 20 degC and don't make the air above them explosive at 20 degC."""
    if item.family != "solvent" or item.flash_point_c is None or item.flash_point_c > 20:
        return
    if item.lel_pct is None or item.vapour_pressure_kpa is None:
        yield "flashes below 20 degC; its explosive limit or vapour pressure is not given"
    elif item.vapour_pressure_kpa / _ATMOSPHERE_KPA * 100 <= _SATURATED_MARGIN * item.lel_pct:
        yield f"flashes at {item.flash_point_c:g} degC, and saturated air at 20 degC is below {item.lel_pct:g} %"


@of_item("limit-row", Substance, tip="compare the row with its list")
def limit_row(item: Substance) -> Iterator[str]:
    """Give rows of exposure limits that contradict themselves or one another."""
    seen: dict[tuple[object, ...], float | None] = {}
    for row in item.limits:
        where = f"{row.list}, {row.kind}"
        if not (row.as_of[:1].isdigit() or row.as_of.startswith(("undated copy", "page archived"))):
            yield f"{where}: as_of is no date"
        if row.ppm is not None and row.mg_m3 is not None and item.molar_mass_g_mol is not None:
            listed = ppm(row.mg_m3, item.molar_mass_g_mol, _LIST_L_MOL)
            if not abs(listed / row.ppm - 1) < _LIST_ROUNDING:
                yield f"{where}: {row.mg_m3:g} mg/m3 are {listed:.3g} ppm, not {row.ppm:g}"
        value = row.mg_m3 or row.ppm or row.fibres_cm3
        key = (row.list, row.jurisdiction, row.kind, row.valid_from, row.valid_until)
        if seen.setdefault(key, value) != value:
            yield f"{where}: stands there twice, with different figures"


@of_item("short-limit", Substance, tip="the two rows are swapped, or one is misread")
def short_limit(item: Substance) -> Iterator[str]:
    """Short-term limits below the day limit of the same list."""
    for day in (row for row in item.limits if row.kind == "twa-8h"):
        for short in (row for row in item.limits if row.kind == "stel-15min" and row.list == day.list):
            if (day.valid_from, day.valid_until) != (short.valid_from, short.valid_until):
                continue
            if (day.ppm and short.ppm and short.ppm < day.ppm) or (
                day.mg_m3 and short.mg_m3 and short.mg_m3 < day.mg_m3
            ):
                yield f"{day.list}: the limit of 15 min is below that of 8 h"


@of_item_in_tree("reactive-group", Substance, tip="the groups stand in generic_catalog/reactive_groups.toml")
def reactive_group(item: Substance, tree: Tree) -> Iterator[str]:
    """Find groups that the chart doesn't have."""
    for group in item.reactive_groups or ():
        if group not in tree.tables["reactive_groups"]["groups"]:
            yield f"'{group}' is no reactive group"


@of_item("no-reactive-group", Substance, tip="list them; write [] where it is in none", shipped=True)
def no_reactive_group(item: Substance) -> Iterator[str]:
    """Substances that don't say how they react."""
    if item.reactive_groups is None:
        yield "its reactive groups are not given"


LINTERS = (
    registry_number, substance_bounds, vapour_and_boiling, fire_statement, explosive_limit, limit_row, short_limit,
    reactive_group, no_reactive_group,
)  # fmt: skip
