"""What a field of an event may hold: lines of text, names, days, amounts and readings, each in one way of writing."""

from __future__ import annotations

import unicodedata
from decimal import Decimal
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field, PlainSerializer

from kb.base import models
from kb.base.errors import one_line
from kb.stock import amounts, when

#: Numbers beyond this are no numbers of events.
LARGEST_ID = 10**12
#: With them a name can be made to look like another.
_TURNING = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"


def _line(words: str) -> str:
    if any("\ud800" <= letter <= "\udfff" for letter in words):
        raise ValueError("holds a byte that is no text")
    if any(letter in _TURNING for letter in words):
        raise ValueError("holds a control that turns the direction of reading; type it anew")
    return one_line(unicodedata.normalize("NFC", words))


def _said(words: str) -> str:
    if not words:
        raise ValueError("may not be empty")
    return words


def _positive(number: Decimal) -> Decimal:
    if number <= 0:
        raise ValueError("must be more than 0")
    return number


def _not_negative(number: Decimal) -> Decimal:
    if number < 0:
        raise ValueError("may not be below 0")
    return number


def _six_decimals(number: float) -> float:
    """Finer than anything measured here, and short enough to go through a spreadsheet unchanged; never -0."""
    return round(number, 6) + 0.0


Line = Annotated[str, AfterValidator(_line), Field(max_length=600)]
Said = Annotated[Line, AfterValidator(_said)]
Mark = Annotated[Said, Field(max_length=60)]
Moment = Annotated[str, BeforeValidator(when.moment)]
Day = Annotated[str, BeforeValidator(when.day)]
Number = Annotated[int, Field(ge=1, le=LARGEST_ID)]
Unit = Annotated[str, AfterValidator(amounts.unit_named)]
_Number = Annotated[Decimal, BeforeValidator(amounts.amount), PlainSerializer(amounts.text, return_type=str)]
Amount = Annotated[_Number, AfterValidator(_positive)]
Left = Annotated[_Number, AfterValidator(_not_negative)]
Celsius = Annotated[models.Celsius, AfterValidator(_six_decimals)]
Finite = Annotated[float, Field(ge=0, le=1e9, allow_inf_nan=False), AfterValidator(_six_decimals)]
