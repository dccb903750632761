"""The job file: defaults, units, and one clear line for each kind of fault."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kb.base.errors import BadInput
from kb.job import Job, job_of, read_job
from kb.rules.job_facts import NO_LIMIT_MIN, job_facts

#: Names of fields, right and wrong, in any table.
FIELDS = [
    "substrate",
    "temperature_c",
    "peak",
    "exposures",
    "grid_mm",
    "boards",
    "surface",
    "thickness_mm",
    "name",
    "x",
]


def task(**tables: dict[str, Any]) -> dict[str, Any]:
    """A small good job with `tables` laid over it."""
    data: dict[str, Any] = {"part": {"substrate": "brass"}, "service": {"temperature_c": [0, 50]}}
    for name, table in tables.items():
        data[name] = {**data.get(name, {}), **table}
    return data


def test_defaults_are_filled_in() -> None:
    job = job_of(task(), "t")
    assert job.service.exposures == ("dry-air",)
    assert (job.batch.boards, job.batch.confidence) == (1, 0.95)
    assert job.model_dump(mode="json")["bench"]["air_temperature_c"] == 22.0
    assert job_facts(job, {})["limits"]["ready_within_min"] == NO_LIMIT_MIN


def test_units_are_converted() -> None:
    job = job_of(task(part={"thickness_mm": "0.25 in"}, service={"temperature_c": ["32 degF", "323.15 kelvin"]}), "t")
    assert job.part.thickness_mm == pytest.approx(6.35)
    for volume in ("60 m3", "60 m**3", "60000 litre", "60"):
        assert job_of(task(bench={"room_volume_m3": volume}), "t").bench.room_volume_m3 == 60.0
    for change in ("4 1/h", "4 per hour", "4 / h"):
        assert job_of(task(bench={"air_changes_per_h": change}), "t").bench.air_changes_per_h == 4.0
    assert job.service.temperature_c == (0.0, 50.0)


@pytest.mark.parametrize(
    ("typed", "celsius"),
    [("85 C", 85), ("85°C", 85), ("185F", 85), ("185 °F", 85), ("60,5 degC", 60.5), ("-40,5", -40.5), ("300 K", 26.85)],
)
def test_a_temperature_as_people_write_it(typed: str, celsius: float) -> None:
    """Pint alone reads C as coulomb, and 60,5 as 605."""
    assert job_of(task(service={"temperature_c": [-60, typed]}), "t").service.temperature_c[1] == celsius


@pytest.mark.parametrize("typed", ["9**9**9**9 mm", "2*3 mm", "[1]", "5 m**9**9**9", "5 (mm)", f"5 {'m' * 5000}"])
def test_a_number_is_read_and_never_reckoned(typed: str) -> None:
    with pytest.raises(BadInput, match=r"is not a number with a unit|is too long for a number"):
        job_of(task(part={"thickness_mm": typed}), "t")


@pytest.mark.parametrize("typed", ["1,250 mm", "1,250.5 mm", "1,000,000 mm"])
def test_a_comma_that_may_mean_two_things_is_refused(typed: str) -> None:
    with pytest.raises(BadInput, match="a comma may part thousands or decimals; write a point, or no comma"):
        job_of(task(part={"thickness_mm": typed}), "t")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({"part": {"substrate": "x"}}, "t: [service] is missing; every job needs [part] and [service]"),
        (task(service={"exposures": ["sea-watter"]}), "did you mean 'sea-water-immersion'?"),
        (
            task(service={"expsures": ["dry-air"]}),
            "t: service.expsures: there is no such field; did you mean 'exposures'?",
        ),
        (task(service={"temperature_c": [50, 0]}), "minimum 50 degC is above maximum 0 degC; write [low, high]"),
        (task(service={"temperature_c": [float("nan"), 5]}), "temperature_c: nan is not a finite number"),
        (task(service={"temperature_c": [float("inf"), 5]}), "temperature_c: inf is not a finite number"),
        (task(service={"temperature_c": [-300, 5]}), "temperature_c: -300 degC is below absolute zero"),
        (task(service={"temperature_c": ["5 kg", 9]}), "'5 kg' is not in a unit that converts to degC"),
        (task(service={"temperature_c": ["warm", 9]}), "'warm' is not a number with a unit, such as '20 degC'"),
        (task(service={"temperature_c": 20}), "t: service.temperature_c: should be a list, such as [a, b]"),
        (task(service={"peak": {"temperature_c": 40}}), "peak.temperature_c: 40 degC is below the maximum 50 degC"),
        (task(batch={"boards": -1}), "t: batch.boards: should be greater than or equal to 1 (given: -1)"),
        (task(batch={"expected_yield": 1.5}), "t: batch.expected_yield: should be less than or equal to 1"),
        (task(part={"surface": ["bear"]}), "'bear' is not a surface; did you mean 'bare'?"),
        (task(part={"substrate": " "}), "part.substrate: is empty"),
        (task(gauge={"backing": "kraft"}), "'kraft' is not a backing family"),
        (task(gauge={"grid_mm": [6, 3], "matrix_mm": [5, 4]}), "grid_mm 6 x 3 is larger than matrix_mm 5 x 4"),
        (task(gauge={"grid_mm": [10, 3]}), "grid_mm 10 x 3 is larger than matrix_mm 7 x 4; give the backing's whole"),
        ({**task(), "job": {"planned_on": "next week"}}, "planned_on: should be a day such as 2027-03-01 (given: '"),
        (task(limits={"exclude_hazards": ["isocynate"]}), "did you mean 'isocyanate'?"),
        ({**task(), "serv": {}}, "t: serv: there is no such field; did you mean 'service'?"),
    ],
)
def test_faults_are_one_line(data: dict[str, Any], said: str) -> None:
    with pytest.raises(BadInput) as fault:
        job_of(data, "t")
    text = str(fault.value)
    assert said in text
    assert "\n" not in text
    assert fault.value.exit_status == 2


def test_files_that_are_no_job(tmp_path: Path) -> None:
    (tmp_path / "broken.toml").write_text("[part\n")
    (tmp_path / "latin.toml").write_bytes(b"name = '\xe9'")
    for name, said in [
        ("missing.toml", "no such file"),
        ("broken.toml", "is not TOML"),
        ("latin.toml", "not UTF-8"),
        (".", "folder"),
    ]:
        with pytest.raises(BadInput, match=said):
            read_job(tmp_path / name)


def test_what_heat_the_part_endures() -> None:
    said = job_of(task(part={"max_process_temperature_c": 150}), "t")
    assert job_facts(said, {"max_temperature_c": 90.0})["part"]["max_process_temperature_c"] == 150.0, (
        "the job knows its part"
    )
    unsaid = job_of(task(), "t")
    assert job_facts(unsaid, {"max_temperature_c": 90.0})["part"]["max_process_temperature_c"] == 90.0
    assert job_facts(unsaid, {"max_temperature_c": 40.0})["part"]["max_process_temperature_c"] == 50.0, (
        "it serves at 50"
    )
    assert "max_process_temperature_c" not in job_facts(unsaid, {})["part"]


def test_a_board_is_populated_unless_the_job_says_not() -> None:
    board = {"carries_parts": True}
    assert job_facts(job_of(task(), "t"), board)["part"]["populated"] is True
    assert job_facts(job_of(task(part={"populated": False}), "t"), board)["part"]["populated"] is False


VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=12)
    | st.sampled_from(["20 degC", "0.25 in", "brass", "dry-air", "[", "1e400 degC", "degC", "20 furlong"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(FIELDS), inner, max_size=4),
    max_leaves=12,
)


@given(
    st.dictionaries(st.sampled_from([*Job.model_fields, "serv", ""]), st.dictionaries(st.sampled_from(FIELDS), VALUES))
)
@settings(max_examples=300, suppress_health_check=[HealthCheck.too_slow])
def test_whatever_is_written_there_is_no_traceback(data: dict[str, Any]) -> None:
    try:
        job_facts(job_of(data, "t"), {"max_temperature_c": 90.0})
    except BadInput as fault:
        text = str(fault)
        assert text.startswith("t")
        assert "\n" not in text


@pytest.mark.parametrize(
    ("written", "read"),
    [
        (["kerosene"], ("hydrocarbon-fuel",)),
        (["Diesel", "salt spray", "vacuum"], ("hydrocarbon-fuel", "salt-fog", "vacuum")),
        (["petrol", "hydrocarbon-fuel"], ("hydrocarbon-fuel",)),
        ([{"is": "under water", "depth_m": 3}], ("fresh-water-immersion",)),
    ],
)
def test_an_exposure_goes_by_what_people_call_it(written: list[Any], read: tuple[str, ...]) -> None:
    job = job_of({"part": {"substrate": "brass"}, "service": {"temperature_c": [0, 40], "exposures": written}}, "job")
    assert job.service.exposures == read
    assert set(job.service.conditions) <= set(read)


@pytest.mark.parametrize(("word", "mend"), [("kerosine", "kerosene"), ("condensin", "condensing")])
def test_an_exposure_that_is_misspelt_is_answered_by_the_near_word(word: str, mend: str) -> None:
    with pytest.raises(BadInput, match=f"did you mean '{mend}'"):
        job_of({"part": {"substrate": "brass"}, "service": {"temperature_c": [0, 40], "exposures": [word]}}, "job")


def test_a_field_of_older_job_files_is_told_by_its_new_name() -> None:
    with pytest.raises(BadInput, match=r"part\.in_place: is called no_oven now; write no_oven in its place"):
        job_of({"part": {"substrate": "brass", "in_place": True}, "service": {"temperature_c": [10, 30]}}, "t")


def test_a_former_field_below_another_table_is_told_with_its_table_and_its_new_name() -> None:
    with pytest.raises(BadInput, match=r"service\.in_place: there is no such field; write no_oven below \[part\]"):
        job_of({"part": {"substrate": "brass"}, "service": {"temperature_c": [10, 30], "in_place": True}}, "t")
