"""Every command in the tutorial and the how-tos runs, ends as it says, and prints what the text shows."""

from __future__ import annotations

import re
import shlex
import sys
from pathlib import Path

import pytest

from kb.cli import main

DOCS = Path(__file__).parents[2] / "docs"
_PIECE = re.compile(
    r"<!-- file: (?P<file>\S+) -->\n```(?:toml|csv)\n(?P<body>.*?)```"
    r"|<!-- change: (?P<old>\S+) to (?P<new>\S+): (?P<was>.*?) -> (?P<now>.*?) -->"
    r"|```sh\n(?P<commands>.*?)```"
    r"|```text\n(?P<shown>.*?)```"
    r"|```console\n\$ (?P<session>[^\n]*)\n(?P<transcript>.*?)```",
    re.S,
)
#: What was typed stands after a prompt; ^D is the end of the input.
_TYPED = re.compile(r"or Enter if it isn't known: (.*)$", re.M)


class Keyboard:
    """Standard input that shows what is typed, as a terminal does."""

    def __init__(self, lines: list[str]) -> None:
        self.lines = lines

    def isatty(self) -> bool:
        return True

    def readline(self) -> str:
        if not self.lines:
            return ""
        line = self.lines.pop(0)
        sys.stderr.write(line if line == "^D" else f"{line}\n")
        return "" if line == "^D" else f"{line}\n"


@pytest.mark.parametrize("document", ["tutorial.md", "how-to.md", "day.md"])
def test_the_guide_is_true(
    document: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    if today := re.search(r"<!-- today: (\S+) -->", (DOCS / document).read_text()):
        monkeypatch.setenv("TACKROOM_TODAY", today[1])
    printed, ran = "", 0
    for piece in _PIECE.finditer((DOCS / document).read_text()):
        if piece["file"]:
            path = tmp_path / piece["file"]
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(piece["body"])
        elif piece["old"]:
            before = (tmp_path / piece["old"]).read_text()
            assert before.count(piece["was"]) == 1
            (tmp_path / piece["new"]).write_text(before.replace(piece["was"], piece["now"]))
        elif piece["commands"]:
            printed = ""
            for line in piece["commands"].splitlines():
                command, _, wanted = line.partition("  # exit status ")
                monkeypatch.setattr(sys, "argv", shlex.split(command))
                with pytest.raises(SystemExit) as ended:
                    main()
                out = capsys.readouterr()
                assert ended.value.code == int(wanted or 0), f"{line}\n{out.err}"
                printed += out.out
                ran += 1
        elif piece["session"]:
            monkeypatch.setattr(sys, "argv", shlex.split(piece["session"]))
            monkeypatch.setattr(sys, "stdin", Keyboard(_TYPED.findall(piece["transcript"])))
            with pytest.raises(SystemExit):
                main()
            out = capsys.readouterr()
            assert (out.err + out.out).startswith(piece["transcript"])
            ran += 1
        else:
            for line in piece["shown"].splitlines():
                assert line in printed, f"not printed: {line}"
    assert ran >= 7
    for page in tmp_path.glob("*.html"):
        assert page.read_text().startswith("<!doctype html>")


def test_the_five_questions_are_answered_on_the_first_screen() -> None:
    """What a terminal of 24 lines shows at once: each session is the beginning of what is printed, and no longer."""
    answers = {
        "pick board.toml --workspace": ("of CA-05", "of CA-12", "SHORT of 1 item", "lint-free-gauze"),
        "estimate board.toml --order": ("1 pack of 200 pcs", "LATE"),
        "--on monday": ("of CA-12", "not CA-05: expired"),
        "explain board.toml acetone": ("Acetone is out", "block: acetone swells"),
        "run board.toml": ("1 of ", "Power the board down"),
        "stock flag": ("Use these first",),
    }
    shown = [piece["transcript"] for piece in _PIECE.finditer((DOCS / "day.md").read_text()) if piece["session"]]
    asked = [piece["session"] for piece in _PIECE.finditer((DOCS / "day.md").read_text()) if piece["session"]]
    for question, words in answers.items():
        [screen] = [text for line, text in zip(asked, shown, strict=True) if question in line]
        assert len(screen.splitlines()) < 24
        assert all(word in screen for word in words), question


@pytest.mark.parametrize("document", ["tutorial.md", "how-to.md", "explanation.md", "pictures.md", "day.md"])
def test_links_lead_somewhere(document: str) -> None:
    for target in re.findall(r"\]\(([^)#]+)\)", (DOCS / document).read_text()):
        assert (DOCS / target).exists(), target


def test_every_picture_command_is_described(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "argv", ["tackroom", "picture", "--help"])
    with pytest.raises(SystemExit):
        main()
    listed = re.findall(r"^  ([a-z]+)  ", capsys.readouterr().out, re.M)
    assert len(listed) >= 5
    for name in listed:
        assert f"`tackroom picture {name}" in (DOCS / "pictures.md").read_text()
