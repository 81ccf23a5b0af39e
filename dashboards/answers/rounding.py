"""How finely figures are told, and their signs."""

from __future__ import annotations

from dashboards import words

MINUS = "\u2212"


def on_average(parts: float) -> float:
    """Round a mean number of parts to two digits, and no finer than a hundredth of a part.

    >>> on_average(27.4), on_average(0.512), on_average(5e-8)
    (27.0, 0.51, 0.0)
    """
    return round(float(f"{parts:.2g}"), 2)


def signed(x: float) -> str:
    """Write a change with its sign, two significant digits.

    >>> signed(0.031), signed(-1.26)
    ('+0.031', '\u22121.3')
    """
    return f"{MINUS if x < 0 else '+'}{words.two(abs(x))}"
