"""Plain text: times in a person's unit, and lines of one width."""

from __future__ import annotations

import pytest

from kb.report.text import WIDTH, duration, wrapped


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0.99, "59 s"),
        (1, "1 min"),
        (89, "89 min"),
        (90, "1.5 h"),
        (72 * 60 - 1, "72 h"),
        (72 * 60, "3 days"),
        (10 * 1440 + 720, "10.5 days"),
    ],
)
def test_times_in_a_persons_unit(minutes: float, words: str) -> None:
    assert duration(minutes) == words


def test_lines_hang_under_their_lead() -> None:
    lines = wrapped("a-long-word " * 30, "  rule: ").splitlines()
    assert lines[0].startswith("  rule: a-long-word")
    assert all(line.startswith(" " * 8 + "a-long-word") for line in lines[1:])
    assert all(len(line) <= WIDTH for line in lines)
    assert len(lines) > 2
    assert wrapped("word " * 40, "  rule: ", 2).splitlines()[1].startswith("  word")
