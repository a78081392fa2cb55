"""Numbers as typed, exact, and numbers as written on paper."""

from __future__ import annotations

from fractions import Fraction


def show_count(value: float, digits: int = 2) -> str:
    """Write a number of any unit with thousands set apart and at most ``digits`` decimals.

    >>> show_count(1440), show_count(-125), show_count(6.54545, 3)
    ('1,440', '−125', '6.545')
    """
    text = f"{value:,.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text.replace("-", "−")


def exact(value: float) -> Fraction:
    """Return a number, in its own unit, as it was typed, free of binary rounding.

    >>> exact(0.1) * 3 == exact(0.3)
    True
    """
    return Fraction(str(float(value)))
