"""Serials in the order in which cars were built: by their leading text, then by the number they end in."""

from __future__ import annotations

import re

_NUMBER = re.compile(r"(.*?)(\d*)$", re.DOTALL)

NO_NUMBER = -1
"""Number of a serial that ends in none: before every number."""


def serial_key(serial: str) -> tuple[str, int]:
    """Return the leading text of a serial and the number it ends in, so that B999 comes before B1000.

    Examples
    --------
    >>> serial_key("LW2-08100"), serial_key("proto")
    (('LW2-', 8100), ('proto', -1))
    """
    found = _NUMBER.match(serial.strip())
    text, number = found.groups() if found else (serial, "")
    return text, int(number) if number else NO_NUMBER


def within(serial: str, first: str | None, last: str | None) -> bool | None:
    """Return whether a serial lies in a range, ends included; None where its leading text is that of neither end.

    Parameters
    ----------
    serial
        Of the car.
    first, last
        Ends of the range, None = open.

    Examples
    --------
    >>> within("B1000", "B999", None), within("B1000", None, "B999"), within("K1", "B1", "B9")
    (True, False, None)
    """
    ends = [serial_key(end) for end in (first, last) if end is not None]
    key = serial_key(serial)
    if not ends:
        return True
    if key[0] not in {text for text, _ in ends}:
        return None
    return (first is None or key >= serial_key(first)) and (last is None or key <= serial_key(last))
