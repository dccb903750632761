"""Outgassing limits (topic 11)."""

import pytest

from kb.calc import describe, run
from tests.outside.published import entry


@pytest.mark.parametrize(
    ("tml_more", "cvcm_more", "passes"), [(0, 0, True), (0.01, 0, False), (0, 0.01, False), (-0.01, -0.01, True)]
)
def test_at_the_limit_passes(tml_more: float, cvcm_more: float, passes: bool) -> None:
    known = entry("e595-limits")
    given = {
        "tml_pct": round(known.expected["TML_pct_max"] + tml_more, 6),
        "cvcm_pct": round(known.expected["CVCM_pct_max"] + cvcm_more, 6),
    }
    assert run("outgassing", given)["result"]["passes"] is passes, known.against(given)


def test_water_is_shown_and_decides_nothing() -> None:
    known = entry("e595-wvr")
    given = {"tml_pct": known.inputs["TML"], "cvcm_pct": known.inputs["CVCM"], "wvr_pct": known.inputs["WVR"]}
    found = run("outgassing", given)["result"]
    known.assert_near(found["tml_less_water_pct"])
    assert found["passes"] is False, known.against(found)


def test_the_conditions_are_said() -> None:
    known = entry("e595-conditions")
    said = describe("outgassing").source
    assert f"{known.expected['specimen_C']} degC" in said, known.against(said)
    assert f"{known.expected['hours']} h" in said, known.against(said)
