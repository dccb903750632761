"""Pictures are well-formed, say in words what they show, hold true values, and keep names harmless."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from kb.calc import function
from kb.engine.check import NOT_KNOWN, Checked, Grid, grid_of
from kb.engine.plan import Engine
from kb.job import job_of
from kb.materials.resolve import substrate
from kb.planning.coverage import Cell, cell, columns, representatives
from kb.planning.procedure import procedure
from kb.report.coverage import said as words
from kb.report.pictures import Picture
from kb.report.pictures.drawing import PHONE
from kb.report.pictures.grids import coverage_picture, matrix_picture
from kb.report.pictures.layers import layers, layers_picture
from kb.report.pictures.stack import layers as stacked
from kb.report.pictures.stack import stack_picture
from kb.report.pictures.temperatures import temperature_picture, windows
from kb.report.pictures.timeline import timeline_picture, waits
from tests.report.conftest import Planned
from tests.test_cli import run

SVG = "{http://www.w3.org/2000/svg}"
JOBS = ("board", "bracket", "seal")
OF_A_CHAIN = (temperature_picture, timeline_picture, layers_picture, stack_picture)
#: What is smaller on a screen is not read at the bench [px].
LEAST_TEXT = 12
EVIL = "<script>alert(1)</script> & \"'"


def sound(picture: Picture) -> ET.Element:
    """The picture's root, after what every picture must keep."""
    root = ET.fromstring(picture.svg)
    assert root.tag == f"{SVG}svg"
    title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert desc is not None
    assert title.text == picture.title
    assert desc.text
    assert root.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
    assert root.get("role") == "img"
    assert picture.text.startswith(picture.title)
    assert picture.text.count("\n") >= 2
    paints = {paint for shape in root.iter() for name in ("fill", "stroke") if (paint := shape.get(name))}
    assert paints <= {"none", "currentColor"} | {paint for paint in paints if paint.startswith("url(#")}
    assert not list(root.iter(f"{SVG}script"))
    sizes = {float(size) for shape in root.iter() if (size := shape.get("font-size"))}
    assert min(sizes) >= LEAST_TEXT
    width, height = float(root.get("width", 0)), float(root.get("height", 0))
    for shape in root.iter():
        for name, most in (("x", width), ("y", height)):
            assert 0 <= float(shape.get(name, 0)) <= most, ET.tostring(shape)
        assert float(shape.get("width", 0)) >= 0
    return root


@pytest.mark.parametrize("name", JOBS)
@pytest.mark.parametrize("draw", OF_A_CHAIN)
def test_sound_and_the_same_twice(planned: dict[str, Planned], name: str, draw: object) -> None:
    assert callable(draw)
    one = planned[name]
    picture = draw(one.plan, one.chain)
    assert sound(picture).get("width") == str(PHONE), "a phone shows all of it"
    assert picture == draw(one.plan, one.chain)


def test_the_same_bytes_whatever_the_hash_seed() -> None:
    root = Path(__file__).parents[2]
    for arguments in (["layers", "generic_catalog/demo/1-board.toml"], ["pairs", "neutraliser", "conditioner"]):
        first, second = (run("picture", *arguments, cwd=root, PYTHONHASHSEED=seed).stdout for seed in ("1", "2"))
        assert first == second
        ET.fromstring(first)


def test_windows_tell_the_chain_from_what_is_refused(planned: dict[str, Planned]) -> None:
    one = planned["bracket"]
    refused = {item.id for item, _ in one.plan.excluded}
    own = {o.entry.id for o in one.chain.picks if o.entry is not None}
    for kind in ("backing", "adhesive", "coating"):
        for window in windows(one.plan, one.chain, kind):
            if window.state == "in the chain":
                assert window.entry.id in own
            else:
                assert (window.state == "refused") == (window.entry.id in refused)
                assert bool(window.reason) == (window.state == "refused")
    chosen = next(w for w in windows(one.plan, one.chain, "adhesive") if w.state == "in the chain")
    assert (chosen.low, chosen.high) == (chosen.entry.facts["min_c"], one.chain.cure["service_max_c"])
    assert chosen.low <= one.plan.job.service.temperature_c[0]
    assert chosen.high >= one.plan.job.service.temperature_c[1]


def test_a_peak_is_drawn_and_told(engine: Engine) -> None:
    data = {
        "part": {"substrate": "brass-c26000"},
        "service": {"temperature_c": [-20, 70], "peak": {"temperature_c": 90, "duration_h": 2}},
    }
    plan = engine.plan(job_of(data, "test"), substrate("brass-c26000", engine.knowledge, "test").entry)
    picture = temperature_picture(plan, plan.chains[0])
    sound(picture)
    assert ">peak 90 degC<" in picture.svg
    assert "The job asks -20 to 70 degC, peak 90 degC" in picture.text


@pytest.mark.parametrize("name", JOBS)
def test_waits_are_those_of_the_procedure(planned: dict[str, Planned], name: str) -> None:
    one = planned[name]
    found = list(waits(one.plan, one.chain))
    asked = [s.wait_s / 60 for s in procedure(one.plan, one.chain) if s.wait_s]
    assert [w.end_min - w.begin_min for w in found] == pytest.approx(asked)
    assert all(a.end_min == b.begin_min for a, b in pairwise(found))
    assert found[-1].end_min <= one.chain.critical_path_min + 1e-6, "hands-on work comes on top"


@pytest.mark.parametrize("name", JOBS)
def test_layers_agree_with_the_named_calculations(planned: dict[str, Planned], name: str) -> None:
    """Against film-stress and stiffening, which stand in tests/outside/ on values of their own."""
    one = planned[name]
    part, low = one.plan.substrate.facts, one.plan.job.service.temperature_c[0]
    found = list(layers(one.plan, one.chain))
    assert [layer.role for layer in found][:2] == ["adhesive", "backing"]
    facts, cure = one.chain.pick("adhesive").facts("adhesive"), one.chain.cure
    assert facts is not None
    film = function("film-stress")(
        modulus_gpa=1,
        poisson=0,
        cte_film_ppm=facts["cte_ppm_per_c"],
        cte_part_ppm=part["cte_ppm_per_c"],
        delta_c=max(cure["temperature_c"], cure.get("post_cure_c", -300)) - low,
    )
    assert found[0].cold_ue == pytest.approx(film["mismatch_ue"])
    known = [layer.ratio for layer in found if layer.ratio is not None]
    base = {"modulus_gpa": part["modulus_gpa"], "thickness_mm": one.plan.job.part.thickness_mm}
    stack = []
    for option in one.chain.picks:
        if option.entry is not None and option.entry.kind in ("adhesive", "backing", "coating"):
            own = option.entry.facts
            thick = own.get("bond_line_um") if option.entry.kind == "adhesive" else own["thickness_um"]
            if thick is not None and own.get("modulus_gpa") is not None:
                stack.append({"modulus_gpa": own["modulus_gpa"], "thickness_mm": thick / 1000})
    assert sum(known) == pytest.approx(function("stiffening")(part=base, layers=stack)["ratio"])


def test_what_is_not_known_is_said(planned: dict[str, Planned]) -> None:
    one = planned["board"]
    bare = one.plan.substrate._replace(facts={"id": "x", "name": "x"})
    picture = layers_picture(replace(one.plan, substrate=bare), one.chain)
    sound(picture)
    assert picture.text.count("mismatch not known; stiffening not known") == 3
    assert "expansion of the part, modulus of the part" in picture.text
    assert picture.svg.count(">not known<") == 6


def test_pairs(engine: Engine) -> None:
    grid = grid_of(engine, "neutraliser", "conditioner")
    picture = matrix_picture(grid)
    root = sound(picture)
    assert len(list(root.iter(f"{SVG}rect"))) == len(grid.rows) * len(grid.columns)
    for down, line in zip(grid.rows, grid.cells, strict=True):
        for across, one in zip(grid.columns, line, strict=True):
            told = one.verdict not in ("compatible", NOT_KNOWN)
            assert (f"{across} with {down}: {one.verdict}" in picture.text) == told


def test_names_in_a_grid_are_harmless() -> None:
    grid = Grid((EVIL, "b"), [EVIL], ["x"], [[Checked((EVIL, "x"), "compatible", ())]])
    root = sound(matrix_picture(grid))
    assert any(node.text == EVIL for node in root.iter(f"{SVG}text"))
    assert "<script" not in matrix_picture(grid).svg


def test_coverage(engine: Engine) -> None:
    some = list(columns())[:6] + list(columns())[-1:]
    parts = representatives(engine.knowledge)
    cells = [
        cell(engine, parts[f], c)
        for f in ("brass-c26000", "aluminium-alloy", "polycarbonate")
        if f in parts
        for c in some
    ]
    picture = coverage_picture(cells)
    root = sound(picture)
    said = [node.text or "" for node in root.iter(f"{SVG}text")]
    assert said.count("-") == sum(not one.adhesive and one.possible for one in cells)
    assert any(not one.possible for one in cells), "a plastic at 800 degC is none"
    assert "A1" in said
    closed = next(one for one in cells if not one.adhesive)
    assert f"{closed.family}: {closed.column}: {words(closed)}" in picture.text


def test_coverage_of_one_cell() -> None:
    one = Cell("wood", "softwood", "dry-air, a week", "epoxy-room-cure", (), ())
    assert "wood: dry-air, a week: epoxy-room-cure; bare" in coverage_picture([one]).text


@pytest.mark.parametrize("name", JOBS)
def test_the_cross_section_holds_every_layer_once_and_fits_a_phone(planned: dict[str, Planned], name: str) -> None:
    one = planned[name]
    root = sound(stack_picture(one.plan, one.chain))
    assert float(root.get("width", 0)) <= 328
    names = [layer.name for layer in stacked(one.plan, one.chain)]
    chain = one.chain
    wanted = [chain.pick(slot).entry for slot in ("treatment", "adhesive", "backing", "wire")]
    assert names == [one.plan.substrate.name, *(e.name for e in (*wanted, *chain.coatings) if e is not None)]
    numbers = {text.text for text in root.iter(f"{SVG}text") if text.get("font-weight") == "bold"}
    assert {str(n) for n in range(1, len(names) + 1)} <= numbers, "each layer bears its number"
