"""The built wheel, installed alone in a clean environment, plans the demo with no checkout beside it."""

from __future__ import annotations

import subprocess
import sys
import venv
from pathlib import Path

import httpx

from tests.web.serving import serving

ROOT = Path(__file__).parent.parent


def test_the_wheel_plans_the_demo(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--outdir", str(tmp_path), str(ROOT)],
        check=True,
        capture_output=True,
    )
    (wheel,) = tmp_path.glob("*.whl")
    home = tmp_path / "clean"
    venv.create(home, with_pip=True)
    python = home / "bin" / "python"
    subprocess.run(
        [python, "-m", "pip", "install", "--quiet", str(wheel)], check=True, capture_output=True, cwd=tmp_path
    )
    done = subprocess.run(
        [home / "bin" / "tackroom", "demo"],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        env={"HOME": str(tmp_path), "PATH": "/usr/bin:/bin"},
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "\nBond " in done.stdout
    where = subprocess.run(
        [python, "-I", "-c", "import kb.base.places; print(kb.base.places.shipped()[0])"],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        check=True,
    )
    assert where.stdout.startswith(str(home)), "the knowledge must come from the wheel"
    with serving(home / "bin" / "tackroom", tmp_path) as site:
        for path, holds in (("/", "Choose a chain"), ("/static/style.css", "--ink"), ("/static/htmx.min.js", "htmx")):
            assert holds in httpx.get(site + path).text, "the page must come from the wheel"
