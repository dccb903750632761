"""Plain text: lines of one width."""

from __future__ import annotations

from kb.report.text import WIDTH, wrapped


def test_lines_hang_under_their_lead() -> None:
    lines = wrapped("a-long-word " * 30, "  rule: ").splitlines()
    assert lines[0].startswith("  rule: a-long-word")
    assert all(line.startswith(" " * 8 + "a-long-word") for line in lines[1:])
    assert all(len(line) <= WIDTH for line in lines)
    assert len(lines) > 2
    assert wrapped("word " * 40, "  rule: ", 2).splitlines()[1].startswith("  word")
