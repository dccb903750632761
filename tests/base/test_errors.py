"""A fault is one line, with the word that was meant or all that are known."""

from __future__ import annotations

import pytest

from kb.base.errors import BadInput, StoreError, near_or_all, nearest, one_line, to_tell

KNOWN = ("exposures", "peak", "uv", "high-voltage", "temperature_c")


@pytest.mark.parametrize(
    ("word", "meant"),
    [
        ("expsures", "exposures"),
        ("EXPOSURES", "exposures"),
        ("peek", "peak"),
        ("pek", "peak"),
        ("pk", ""),
        ("temperature", "temperature_c"),
        ("voltage", "high-voltage"),
        ("zzz", ""),
        ("colour", ""),
    ],
)
def test_the_near_word(word: str, meant: str) -> None:
    assert nearest(word, KNOWN) == (f"did you mean '{meant}'?" if meant else "")


def test_a_higher_bar_lets_less_pass() -> None:
    assert nearest("expo", ["expos-x"], cutoff=70) == "did you mean 'expos-x'?"
    assert nearest("exposre", ["expanse"], cutoff=70) == "did you mean 'expanse'?"
    assert nearest("exposre", ["expanse"], cutoff=90) == ""


def test_no_word_is_near_where_none_is_known() -> None:
    assert nearest("peak", ()) == ""
    assert near_or_all("zzz", iter(("a", "b"))) == "known: a, b"


def test_a_fault_is_one_line_whatever_was_typed() -> None:
    assert one_line("a\n\tb\x00\x1b[31m c") == "a b [31m c"
    assert len(to_tell("a " + "b" * 500 + " c")) == 405
    assert len(to_tell("word " * 2000)) == 4001
    assert len(str(BadInput("x" * 5000, "y" * 5000, "z" * 5000))) < 1300
    assert str(BadInput("", "what\nelse", "mend")) == "what else; mend"
    assert str(StoreError("where", "what")) == "where: what"
    assert (BadInput.exit_status, StoreError.exit_status) == (2, 4)
