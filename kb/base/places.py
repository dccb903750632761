"""Where the shipped knowledge lies."""

from pathlib import Path


def shipped() -> tuple[Path, Path]:
    """The folders rules/ and generic_catalog/: inside the installed package, or beside it in a checkout."""
    package = Path(__file__).resolve().parents[1]
    home = package / "data" if (package / "data" / "rules").is_dir() else package.parent
    return home / "rules", home / "generic_catalog"
