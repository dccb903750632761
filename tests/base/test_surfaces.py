"""What people call the face of a part."""

from __future__ import annotations

import pytest

from kb.base.errors import BadInput
from kb.base.surfaces import named, said_as
from kb.base.surroundings import not_judged
from kb.job import Job, job_of


def on(*surface: str) -> Job:
    return job_of(
        {"part": {"substrate": "mild steel", "surface": [*surface]}, "service": {"temperature_c": [10, 30]}}, "a job"
    )


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("Rusted", "oxidised"), ("mill-scale", "oxidised"), ("oxidized", "oxidised"), ("greasy", "oily"),
        ("primed", "painted"), ("powder-coated", "painted"), ("Galvanised", "plated"), ("zinc-plated", "plated"),
        ("anodized", "anodised"), ("solder resist", "solder-masked"), ("as machined", "bare"), ("painted", "painted"),
        ("damp", "wet"), ("Wet with rain", "wet"),
    ],
)  # fmt: skip
def test_a_job_takes_a_surface_as_people_say_it(typed: str, meant: str) -> None:
    assert named(typed) == meant
    assert on(typed).part.surface == (meant,)


def test_two_words_for_one_surface_are_one() -> None:
    assert on("rusty", "scaled", "oily").part.surface == ("oxidised", "oily")


@pytest.mark.parametrize("typed", ["under water", "Weld seam", "frozen", "rough", "hot"])
def test_a_face_that_no_rule_judges_is_told_what_to_do(typed: str) -> None:
    with pytest.raises(BadInput, match="is not judged as a surface; "):
        on(typed)


def test_nothing_is_both_a_surface_and_not_judged_as_one() -> None:
    assert not set(not_judged("surfaces")) & set(said_as())


def test_a_word_that_means_no_surface_is_refused() -> None:
    with pytest.raises(BadInput, match="'moonlit' is not a surface; known: bare, painted"):
        on("moonlit")
