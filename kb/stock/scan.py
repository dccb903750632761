"""What a handheld scanner sends: GS1 element strings from makers' packs, and the codes on the house's own labels.

A GS1 string is a row of fields, each begun by its number (01 product, 10 lot, 11 made, 15 best before, 17
expires, 21 serial). A field of free length ends with a separator that many scanners are not set to send; the lot
then swallows whatever follows. What looks so is refused, for a wrong lot or a lost expiry is worse than a
question.

>>> code = read("]C101040123456789011715012910ABC123", today="2014-06-01")
>>> code.gtin, code.expires, code.lot
('04012345678901', '2015-01-29', 'ABC123')
>>> read(house_code("A-17 ü"), today="2027-03-01").lot
'A-17 ü'
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from urllib.parse import quote, unquote

from kb.base.errors import BadInput
from kb.calc import function
from kb.stock.products import has_right_check_digit, padded
from kb.stock.when import as_date

if TYPE_CHECKING:
    from biip.gs1_messages import GS1Message

#: Between fields, as scanners send it; and as people type it.
SEPARATOR: Final = "\x1d"
_TYPED = ("<GS>", "{GS}", "␝", "<FNC1>", "^]")
_HOUSE = "tackroom:lot/"
#: The same as an address of the lab's own server, which a phone's camera opens.
_ADDRESS = re.compile(r"https?://[^\s/?#]+(?:/[^\s?#]*)?/shelf/lots/(?P<lot>[^\s/?#]+)", re.IGNORECASE)
#: What a scanner may put before the data to tell the kind of code.
_SYMBOLOGY = re.compile(r"\][A-Za-z]\d")
#: A date field that may stand within what was taken for a lot.
_SWALLOWED = re.compile(r"(?=(1[1-7])(\d{6}))")
#: How far from the day of reading a date on a pack may plausibly be, in years.
_PAST, _FUTURE = 10, 15


@dataclass(frozen=True, slots=True)
class Code:
    """What a code says. Dates are canonical text."""

    lot: str | None = None
    gtin: str | None = None
    made: str | None = None
    expires: str | None = None
    serial: str | None = None


def house_code(lot: str, server: str = "") -> str:
    """Tell what the code on a house label says of a lot: its address on the lab's server, where one is given.

    >>> house_code("A-17"), house_code("A/17", "http://lab.local:8765/")
    ('tackroom:lot/A-17', 'http://lab.local:8765/shelf/lots/A%2F17')
    """
    return (f"{server.rstrip('/')}/shelf/lots/" if server else _HOUSE) + quote(lot, safe="")


def _house_lot(words: str) -> str | None:
    """Give the lot that the code on a house label names; None where it is no such code."""
    said = words.strip(" \r\n\t")
    if said.startswith(_HOUSE):
        return unquote(said.removeprefix(_HOUSE))
    found = _ADDRESS.fullmatch(said)
    return unquote(found["lot"]) if found else None


def is_code(words: str) -> bool:
    """Tell whether `words` are a scanned code, and not the name of a lot that somebody typed."""
    marked = _house_lot(words) is not None or words.startswith("(01)") or bool(_SYMBOLOGY.match(words))
    return (
        marked or any(mark in words for mark in (SEPARATOR, *_TYPED)) or bool(re.match(r"01\d{14}(1[0157]|21)", words))
    )


def lot_named(words: str, today: str) -> str:
    """Give the lot that somebody typed or scanned. BadInput where a code can't be trusted or names no lot."""
    if not is_code(words):
        return words
    found = read(words, today)
    if found.lot is None:
        raise BadInput("scan", "the code names no lot", "type the lot")
    return found.lot


def read(words: str, today: str, lot: str | None = None) -> Code:
    """Tell what a code says, read on `today` (the century of its years depends on that).

    `lot`, where the user gives it, ends a lot whose separator is missing. BadInput where the code is no such code,
    a check digit or a date is wrong, or the lot seems to have swallowed what follows it.
    """
    house = _house_lot(words)
    if house is not None:
        return Code(lot=house)
    message = _message(_data(words), lot)
    seen: set[str] = set()
    for element in message.element_strings:
        if element.gtin_error or (element.ai.ai == "01" and not has_right_check_digit(padded(element.value))):
            raise BadInput("scan", f"the check digit of {element.value} is wrong", "scan again")
        if element.ai.ai in seen:
            raise BadInput("scan", f"field {element.ai.ai} is there twice", "scan again")
        seen.add(element.ai.ai)
    found = Code(
        lot=_value(message, "10"),
        gtin=padded(gtin) if (gtin := _value(message, "01")) else None,
        made=_date(message, today, "11"),
        expires=min(filter(None, (_date(message, today, "17"), _date(message, today, "15"))), default=None),
        serial=_value(message, "21"),
    )
    _must_not_have_swallowed(found, message, today)
    if lot is not None and found.lot not in (None, lot):
        raise BadInput("scan", f"the code says lot {found.lot}, and you say {lot}", "scan again, or leave --lot out")
    return found


def _data(words: str) -> str:
    """Give the code without what tells its kind, each separator as a scanner sends it."""
    data = _SYMBOLOGY.sub("", words.strip(" \r\n\t"), count=1)
    for typed in _TYPED:
        data = data.replace(typed, SEPARATOR)
    return data.lstrip(SEPARATOR)


def _message(data: str, lot: str | None) -> GS1Message:
    """Give the fields of a code; with `lot`, the lot ends there, and what follows it is the next field."""
    from biip import ParseConfig, ParseError
    from biip.gs1_messages import GS1Message

    # The library would take the century from the clock; here it comes from the day of reading.
    config = ParseConfig(gs1_element_strings_verify_date=False, separator_chars=(SEPARATOR,))
    readings = [data]
    if lot is not None:
        ends = [found.end() for found in re.finditer(re.escape(f"10{lot}"), data)]
        readings = [data[:end] + SEPARATOR + data[end:].removeprefix(SEPARATOR) for end in ends] + readings
    for reading in filter(None, readings):
        parse = GS1Message.parse_hri if reading.startswith("(") else GS1Message.parse
        try:
            message = parse(reading, config=config)
        except (ParseError, ValueError):
            continue
        if lot is None or reading == data or _value(message, "10") == lot:
            return message
    raise BadInput("scan", "is not a GS1 code that can be read", "scan again, or type what it says")


def _value(message: GS1Message, number: str) -> str | None:
    found = message.element_strings.get(ai=number)
    return found.value if found else None


def _date(message: GS1Message, today: str, number: str) -> str | None:
    digits = _value(message, number)
    if digits is None:
        return None
    try:
        found: str = function("expiry")(gs1=digits, today=as_date(today))["date"]
    except ValueError as fault:
        raise BadInput("scan", str(fault), "scan again") from None
    return found


def _must_not_have_swallowed(found: Code, message: GS1Message, today: str) -> None:
    there = {element.ai.ai for element in message.element_strings}
    for what, value in (("lot", found.lot), ("serial", found.serial)):
        for hidden in _SWALLOWED.finditer(value or ""):
            number, digits = hidden.groups()
            if hidden.start() and number not in there and _plausible(digits, today):
                short = (value or "")[: hidden.start()]
                raise BadInput(
                    "scan",
                    f"the {what} '{value}' seems to hold a date ({number}) that belongs to a field of its own",
                    f"set the scanner to send the separator; or give --lot {short}, if that is the lot",
                )


def _plausible(digits: str, today: str) -> bool:
    try:
        found = function("expiry")(gs1=digits, today=as_date(today))["date"]
    except ValueError:
        return False
    return -_PAST <= int(found[:4]) - int(today[:4]) <= _FUTURE
