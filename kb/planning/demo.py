"""The demo: jobs of an invented lab, shipped with the catalog."""

from pathlib import Path

from kb.base.places import shipped


def jobs() -> dict[str, Path]:
    """Give the demo's job files by short name, the board first.

    >>> list(jobs())
    ['board', 'bracket', 'seal']
    """
    files = sorted((shipped()[1] / "demo").glob("*.toml"))
    return {path.stem.partition("-")[2]: path for path in files}
