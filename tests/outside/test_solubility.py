"""Hansen distances (topic 4). The parameters themselves belong to the catalog and are checked with it."""

from typing import Any

import pytest

from kb.base.errors import BadInput
from kb.calc import run
from tests.outside.published import Entry, cases, entries, entry

#: Their Hansen parameters are neither in the file nor in the catalog's scope.
NO_PARAMETERS = ("hild-dichloromethane", "hild-water")
#: Solvents that the file names without giving their parameters: from memory, as in the open tables.
RECALLED = {"toluene": {"dD": 18.0, "dP": 1.4, "dH": 2.0}}


def parameters(values: dict[str, float]) -> list[float]:
    return [values["dD"], values["dP"], values["dH"]]


def solvent(name: str) -> list[float]:
    name = name.replace(" ", "-")
    if name in RECALLED:
        return parameters(RECALLED[name])
    known = next(e for e in entries(4) if e.id in (f"hsp-{name}", f"hsp-total-{name}"))
    return parameters(known.expected if isinstance(known.expected, dict) else known.inputs)


def distance(a: list[float], b: list[float], radius: float) -> dict[str, Any]:
    result: dict[str, Any] = run("solubility-distance", {"a": a, "b": b, "radius": radius})["result"]
    return result


@pytest.mark.parametrize("known", cases(4, "hsp-RED"))
def test_ratio(known: Entry) -> None:
    """Solvents by the open tables, polymer by Burke 1984; the ratio as another open library codes it."""
    polymer = entry("hsp-PMMA").expected
    found = distance(parameters(polymer), solvent(known.inputs["solvent"]), polymer["R0"])
    known.assert_near(found["red"])
    assert found["attacks"] is (known.note == "dissolves"), known.against(found)


@pytest.mark.parametrize("known", cases(4, "hsp-total", "hsp-cellophane-total", "hsp-PAN-total"))
def test_total(known: Entry) -> None:
    known.assert_near(distance(parameters(known.inputs), [15, 0, 0], 1)["total_a"])


@pytest.mark.parametrize("known", cases(4, "hild", but=NO_PARAMETERS))
def test_total_is_near_the_one_from_heat_of_evaporation(known: Entry) -> None:
    """Half a unit: two different measures of the same thing, so this catches slips and no more."""
    total = distance(solvent(known.id.removeprefix("hild-")), [15, 0, 0], 1)["total_a"]
    assert abs(total - known.expected) <= 0.5, known.against(total)


def test_a_slip_of_the_decimal_point_is_refused() -> None:
    # An open list gives methyl methacrylate a dH of 54 in place of 5.4.
    with pytest.raises(BadInput, match=r"a: \[2\] must be at most 45"):
        distance([15.8, 6.5, 54], [18.6, 10.5, 7.5], 8.6)


def test_a_ratio_above_one_never_says_safe() -> None:
    known = entry("hsp-RED-PMMA-isopropanol")
    polymer, alcohol = entry("hsp-PMMA").expected, entry("hsp-isopropanol").expected
    found = distance(parameters(polymer), parameters(alcohol), polymer["R0"])
    assert found["red"] > 1, known.against(found)
    assert not any("safe" in key or value == "safe" for key, value in found.items()), known.against(found)


def test_radii_of_two_lists_give_opposite_answers() -> None:
    known = entry("hsp-PVC")  # its note gives both radii: 3.5 and 8.1
    centre, butanone = parameters(known.expected), parameters(entry("hsp-MEK").expected)
    answers = [distance(centre, butanone, radius)["attacks"] for radius in (3.5, 8.1)]
    assert answers == [False, True], known.against(answers)
