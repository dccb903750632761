"""Substances of the catalog against values from outside: exposure and fire (topic 6), GHS (13), solvents of topic 4.

The catalog copies some of its values from the packages `chemicals`, `thermo` and `hspipy` and cites them; the program
calls none of them. Entries of kind "library" from these check that the copies are right, not that the packages are.
"""

from typing import Any

import pytest

from kb.knowledge import load
from tests.outside.published import Entry, cases, entries, entry

KNOWLEDGE = load()
SUBSTANCES = {e.id: e.facts for e in KNOWLEDGE.by_kind["substance"]}
BY_CAS = {facts["cas"]: facts for facts in SUBSTANCES.values() if "cas" in facts}
#: The catalog has xylene as the mixture that is sold; its class ranges hold the three isomers.
XYLENE_ISOMERS = {"95-47-6", "108-38-3", "106-42-3"}
#: Isomers of TDI that have no item of their own.
TDI_ISOMERS = {"91-08-7", "26471-62-5"}
#: Names of the entries on solubility parameters.
NAMED = {
    "isopropanol": "propan-2-ol", "acetone": "propanone", "MEK": "butan-2-one", "ethanol": "ethyl-alcohol",
    "ethyl-acetate": "ethyl-ethanoate", "limonene": "d-limonene", "THF": "tetrahydrofuran",
}  # fmt: skip
#: Entries that speak of something that the catalog does not hold, and where they are checked.
ELSEWHERE = {
    "hsp-PMMA": "test_material_properties", "hsp-PVC": "test_material_properties",
    "hsp-cellophane-total": "test_solubility", "hsp-PAN-total": "test_solubility",
    "osha-twa": "a worked time-weighted average: not a property", "osha-mix": "a worked mixture: not a property",
    "lechatelier": "a formula for mixtures that the program does not offer", "ppm-basis": "test_room",
}  # fmt: skip
ELSEWHERE_PREFIXES = ("hsp-RED", "ppm2mg")


def substance(known: Entry) -> Any:
    cas = known.inputs["CAS"]
    return BY_CAS["1330-20-7" if cas in XYLENE_ISOMERS else "584-84-9" if cas in TDI_ISOMERS else cas]


def assert_agrees(known: Entry, field: str, factor: float = 1.0, offset: float = 0.0) -> None:
    """The catalog's value, or its class range where lists or isomers differ, holds the entry's, converted."""
    facts = substance(known)
    expected = known.expected * factor + offset
    tolerance = known.tolerance * factor
    low, high = facts["ranges"].get(field, (facts[field], facts[field]))
    assert low - tolerance - 1e-9 <= expected <= high + tolerance + 1e-9, known.against((low, high))


def parameters(facts: Any) -> dict[str, float]:
    return {f"d{axis.upper()}": facts[f"hansen.{axis}"] for axis in "dph"}


def test_every_entry_of_these_topics_is_used_or_lies_elsewhere() -> None:
    used = {"hsp", "hild", "oel", "lib", "flash", "LFL", "MW", "VP", "rho", "nfpa30", "satconc", "ghs"}
    for known in (*entries(4), *entries(6), *entries(13)):
        elsewhere = known.id in ELSEWHERE or known.id.startswith(ELSEWHERE_PREFIXES)
        assert elsewhere or known.id.split("-")[0] in used, known.id


SOLVENTS = [
    e.values[0] for e in cases(4, "hsp-") if "solvent" in e.values[0].inputs and "polymer" not in e.values[0].inputs
]


@pytest.mark.parametrize("known", SOLVENTS, ids=lambda e: e.id)
def test_solubility_parameters(known: Entry) -> None:
    name = known.id.removeprefix("hsp-")
    found = parameters(SUBSTANCES[NAMED.get(name, name)])
    for axis, value in known.expected.items():
        assert abs(found[axis] - value) <= known.tolerance, known.against(found)


@pytest.mark.parametrize("known", cases(4, "hsp-total", "hild"))
def test_total_solubility_parameter(known: Entry) -> None:
    """Root of the sum of squares; near, but not equal to, the one from the heat of evaporation."""
    name = known.id.removeprefix("hsp-total-").removeprefix("hild-")
    total = sum(value**2 for value in parameters(SUBSTANCES[NAMED.get(name, name)]).values()) ** 0.5
    margin = known.tolerance if known.id.startswith("hsp-") else 0.55
    assert abs(total - known.expected) <= margin, known.against(total)


def test_slip_of_an_open_table_was_not_copied() -> None:
    """One open table prints 54 for 5.4 as the hydrogen-bonding parameter of methyl methacrylate."""
    assert SUBSTANCES["methyl-methacrylate"]["hansen.h"] == 5.4


@pytest.mark.parametrize("known", cases(6, "MW"))
def test_molar_mass(known: Entry) -> None:
    assert_agrees(known, "molar_mass_g_mol") if known.id != "MW-xylene" else known.assert_near(
        SUBSTANCES["xylene"]["molar_mass_g_mol"]
    )


@pytest.mark.parametrize("known", cases(6, "flash", but=("flash-serat-bad-IPA",)))
def test_flash_point(known: Entry) -> None:
    assert known.unit == "degF"
    assert_agrees(known, "flash_point_c", 5 / 9, -32 * 5 / 9)


@pytest.mark.parametrize("known", cases(6, "LFL", but=("LFL-trap-H3PO4",)))
def test_lower_explosive_limit(known: Entry) -> None:
    assert_agrees(known, "lel_pct")


@pytest.mark.parametrize("known", cases(6, "VP", but=("VP-trap-ECA",)))
def test_vapour_pressure_at_20_degrees(known: Entry) -> None:
    assert_agrees(known, "vapour_pressure_kpa", 0.1333224 if known.unit == "mmHg" else 1.0)


@pytest.mark.parametrize("known", cases(6, "rho", but=("rho-trap-H3PO4",)))
def test_density_at_20_degrees(known: Entry) -> None:
    assert_agrees(known, "density_g_ml")


@pytest.mark.parametrize("known", cases(6, "satconc"))
def test_saturated_air(known: Entry) -> None:
    ppm = substance(known)["vapour_pressure_kpa"] * 1000 / known.inputs["p_Pa"] * 1e6
    known.assert_near(ppm)
    assert ppm > substance(known)["lel_pct"] * 1e4, "an open dish in a closed box can make an explosive mixture"


def test_estimates_of_the_library_were_not_copied() -> None:
    """Four traps: estimates that are wrong by tens of kelvins or tens of times."""
    assert SUBSTANCES["propan-2-ol"]["flash_point_c"] > entry("flash-serat-bad-IPA").expected - 273.15 + 15
    assert SUBSTANCES["ethyl-cyanoacrylate"]["vapour_pressure_kpa"] < entry("VP-trap-ECA").expected / 10
    assert SUBSTANCES["phosphoric-acid"]["density_g_ml"] * 1000 > entry("rho-trap-H3PO4").expected + 500
    assert entry("LFL-trap-H3PO4").expected < 0
    assert "lel_pct" not in SUBSTANCES["phosphoric-acid"]


def limit(facts: Any, list_name: str, kind: str, field: str = "ppm") -> list[float]:
    return [row[field] for row in facts["limits"] if row["list"].startswith(list_name) and row["kind"] == kind]


def list_and_kind(words: str) -> tuple[str, str]:
    """'NIOSH REL STEL' as ('NIOSH', 'stel-15min')."""
    last = words.split()[-1].lower()
    kinds = {"twa": "twa-8h", "stel": "stel-15min", "ceiling": "ceiling", "peak": "peak"}
    return words.split()[0], kinds[last]


@pytest.mark.parametrize("known", cases(6, "oel", but=("oel-H3PO4",)))
def test_exposure_limit(known: Entry) -> None:
    name, kind = list_and_kind(known.inputs["limit"])
    found = limit(substance(known), name, kind)
    assert known.expected in found, known.against(found)


def test_exposure_limit_of_a_mist_stays_in_milligrams() -> None:
    known = entry("oel-H3PO4")
    acid = SUBSTANCES["phosphoric-acid"]
    day, short = known.expected
    assert day in limit(acid, "OSHA", "twa-8h", "mg_m3"), known.against(acid["limits"])
    assert short in limit(acid, "NIOSH", "stel-15min", "mg_m3"), known.against(acid["limits"])
    assert all(row.get("ppm") is None for row in acid["limits"]), "the library turns a mist limit into ppm"


@pytest.mark.parametrize("known", [e for e in cases(6, "lib-TWA") if "none" not in e.values[0].id])
def test_copied_exposure_limit(known: Entry) -> None:
    value, unit = known.expected
    assert unit == "ppm"
    assert limit(substance(known), "Ontario", "twa-8h") == [value], known.against(substance(known)["limits"])


@pytest.mark.parametrize("known", cases(6, "lib-TWA-none"))
def test_no_answer_of_the_library_is_not_no_limit(known: Entry) -> None:
    assert known.expected is None
    assert substance(known)["limits"], known.against(())


def test_lists_differ_and_the_strictest_is_kept() -> None:
    """Toluene: one list says 200 ppm, another 20. A table with one of them only would mislead."""
    found = {row["ppm"] for row in SUBSTANCES["toluene"]["limits"] if row["kind"] == "twa-8h"}
    assert max(found) >= 10 * min(found)


@pytest.mark.parametrize("known", cases(6, "nfpa30"))
def test_class_of_flammable_liquid(known: Entry) -> None:
    """Classes of NFPA 30: I below 37.8 degC; B below 22.8 degC if it boils at 37.8 or more, else A; C above."""
    facts = SUBSTANCES["propanone" if known.id.endswith("acetone") else "styrene"]
    low, high = facts["ranges"]["flash_point_c"]
    boils, flash = facts["boiling_point_c"], known.inputs["T_flash_K"] - 273.15
    assert low - 0.5 <= flash <= high + 0.5 < 37.8
    found = "IC" if flash >= 22.8 else "IB" if boils >= 37.8 else "IA"
    assert found == known.expected, known.against(found)


@pytest.mark.parametrize("known", [e for e in cases(13, "ghs") if "CAS" in e.values[0].inputs])
def test_hazard_statements(known: Entry) -> None:
    facts = substance(known)
    found = sorted(set(facts["hazard_statements"]) - set(facts["self_classified"]))
    assert found == sorted(known.expected), known.against(found)


def category(flash_c: float, boils_c: float | None) -> int:
    """Flammable-liquid category, UN GHS chapter 2.6; 0 above 93 degC."""
    if flash_c < 23:
        return 1 if boils_c is not None and boils_c <= 35 else 2
    return 3 if flash_c <= 60 else 4 if flash_c <= 93 else 0


@pytest.mark.parametrize("known", cases(13, "ghs-flam"))
def test_category_of_flammable_liquid(known: Entry) -> None:
    found = category(known.inputs["flash_C"], known.inputs["initial_bp_C"])
    assert found == known.expected, known.against(found)


@pytest.mark.parametrize("known", cases(13, "ghs-code"))
def test_meaning_of_a_code_as_the_catalog_uses_it(known: Entry) -> None:
    code = known.inputs["H_code"]
    users = [facts for facts in SUBSTANCES.values() if code in facts["hazard_statements"]]
    assert users, known.against("no substance has it")
    if code == "H225":
        assert known.expected == "Flammable liquids, Category 2"
        assert {category(f["flash_point_c"], f["boiling_point_c"]) for f in users} == {2}
    if code == "H304":  # aspiration: hydrocarbons that run like water
        assert known.expected.startswith("Aspiration hazard")
        families = {f.get("solvent_family") for f in users}
        assert families <= {"aliphatic-hydrocarbon", "aromatic-hydrocarbon", "terpene"}
    if code == "H319":
        assert known.expected.startswith("Serious eye damage/eye irritation")
        assert all({"irritant", "corrosive"} & set(f["hazards"]) for f in users)
