"""The paper as Chromium lays it out: pages, paper size, nothing that runs over, every step kept whole."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from html import unescape
from pathlib import Path

import pytest

from kb.engine.check import grid_of
from kb.engine.plan import Engine
from kb.job import job_of
from kb.materials.resolve import substrate
from kb.planning.coverage import Cell
from kb.report.approval import approval_form
from kb.report.pictures.grids import coverage_picture, matrix_picture
from kb.report.sheet import bench_sheet
from tests.report.conftest import Planned
from tests.report.test_sheet import sheet_of

#: What runs over its box, or out of its picture, as the page itself measures it.
_MEASURE = """
<script>
const over = [], wide = document.documentElement.clientWidth + 1;
for (const e of document.body.querySelectorAll("*")) {
  const box = e.getBoundingClientRect(), svg = e.ownerSVGElement, said = (e.textContent || "").trim().slice(0, 60);
  if (svg && !e.closest("defs, title, desc")) {
    const frame = svg.getBoundingClientRect();
    const beside = box.left < frame.left - 1 || box.right > frame.right + 1;
    if (beside || box.top < frame.top - 1 || box.bottom > frame.bottom + 1) over.push(e.tagName + ": " + said);
  } else if (!svg) {
    const spills = e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== "inline";
    if (box.right > wide || spills) over.push(e.tagName + ": " + said);
  }
}
const torn = [...document.querySelectorAll(".step")].filter(e => getComputedStyle(e).breakInside !== "avoid").length;
document.body.innerHTML = '<pre id="found"></pre>';
document.getElementById("found").textContent = JSON.stringify({over, torn});
</script>
"""


def chromium() -> str:
    """The browser's path. Without one the tests are skipped, except where CI must have it."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail("Chromium is missing, and CI must print: .ci/run installs it")
        pytest.skip("Chromium is not installed, so nothing can be printed")
    return found


def browse(tmp_path: Path, page: str, *flags: str) -> str:
    """What Chromium says of a page that is shown as wide as a sheet of A4."""
    path = tmp_path / "page.html"
    path.write_text(page)
    always = ["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
    done = subprocess.run(
        [
            chromium(),
            *always,
            f"--user-data-dir={tmp_path / 'profile'}",
            "--window-size=794,1123",
            *flags,
            path.as_uri(),
        ],
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    return done.stdout


def faults(tmp_path: Path, page: str) -> dict[str, object]:
    shown = browse(tmp_path, page.replace("</body>", f"{_MEASURE}</body>"), "--dump-dom")
    found = re.search(r'<pre id="found">(.*?)</pre>', shown, re.S)
    assert found is not None
    result: dict[str, object] = json.loads(unescape(found[1]))
    return result


def pages(tmp_path: Path, page: str) -> list[tuple[float, float]]:
    """Width and height of each page of the PDF [points]."""
    pdf = tmp_path / "page.pdf"
    browse(tmp_path, page, f"--print-to-pdf={pdf}", "--no-pdf-header-footer")
    boxes = re.findall(rb"/Type /Page\n.*?/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]", pdf.read_bytes(), re.S)
    return [(float(w), float(h)) for w, h in boxes]


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_the_bench_sheet_prints(planned: dict[str, Planned], tmp_path: Path, paper: str, size: tuple[int, int]) -> None:
    one = planned["board"]
    assert paper in ("a4", "letter")
    found = pages(tmp_path, bench_sheet(one.plan, one.resolved, one.chain, "a4" if paper == "a4" else "letter"))
    assert 5 <= len(found) <= 10, "forty gauges have a row each"
    assert all((round(w), round(h)) == pytest.approx(size, abs=1) for w, h in found)


@pytest.mark.parametrize(("boards", "gauges", "more"), [(1, 12, 1), (10, 4, 2)])
def test_a_batch_adds_few_pages_and_keeps_within_them(
    engine: Engine, tmp_path: Path, boards: int, gauges: int, more: int
) -> None:
    plain, batch = (sheet_of(engine, *counts) for counts in ((1, 1), (boards, gauges)))
    assert len(pages(tmp_path, batch)) - len(pages(tmp_path, plain)) <= more
    assert faults(tmp_path, batch) == {"over": [], "torn": 0}


def test_the_approval_form_prints(planned: dict[str, Planned], tmp_path: Path) -> None:
    one = planned["board"]
    assert 7 <= len(pages(tmp_path, approval_form(one.plan, one.resolved, one.chain))) <= 12


@pytest.mark.parametrize("form", [bench_sheet, approval_form])
@pytest.mark.parametrize("name", ["board", "bracket", "seal"])
def test_nothing_runs_over(planned: dict[str, Planned], tmp_path: Path, form: object, name: str) -> None:
    assert callable(form)
    one = planned[name]
    assert faults(tmp_path, form(one.plan, one.resolved, one.chain)) == {"over": [], "torn": 0}


@pytest.mark.parametrize("form", [bench_sheet, approval_form])
def test_a_name_without_a_blank_is_broken(engine: Engine, tmp_path: Path, form: object) -> None:
    assert callable(form)
    long = "Q" * 180
    job = job_of(
        {
            "job": {"name": long},
            "part": {"substrate": {"like": "brass-c26000", "name": long}},
            "service": {"temperature_c": [10, 60]},
        },
        "test",
    )
    resolved = substrate(job.part.substrate, engine.knowledge, "test")
    plan = engine.plan(job, resolved.entry)
    assert faults(tmp_path, form(plan, resolved, plan.chains[0])) == {"over": [], "torn": 0}


def test_grids_keep_within_their_frame(engine: Engine, tmp_path: Path) -> None:
    cells = [Cell("conformally-coated-board", "x", f"phosphate-ester-fluid, a year {n}", "", (), ()) for n in range(9)]
    for picture in (matrix_picture(grid_of(engine, "neutraliser", "coating")), coverage_picture(cells)):
        page = f"<!doctype html><style>svg {{ max-width: 100%; height: auto }}</style><body>{picture.svg}</body>"
        assert faults(tmp_path, page)["over"] == []
