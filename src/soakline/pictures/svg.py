"""The few SVG elements that the pictures are made of, with presentation attributes only and every word escaped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape, quoteattr

Attribute = str | float
XY = tuple[float, float]


def element(name: str, *content: str, **attributes: Attribute) -> str:
    """Return one element; content must be markup already, attribute names write ``-`` as ``_``, numbers are in mm.

    >>> element("circle", r=2.50, stroke_width=0.4)
    '<circle r="2.5" stroke-width="0.4"/>'
    """
    listed = "".join(f" {key.rstrip('_').replace('_', '-')}={_value(value)}" for key, value in attributes.items())
    inner = "".join(content)
    return f"<{name}{listed}>{inner}</{name}>" if inner else f"<{name}{listed}/>"


def words(text: str) -> str:
    r"""Return a user's words as markup: escaped, and without characters that XML cannot hold.

    >>> words("<b> & \x00")
    '&lt;b&gt; &amp; '
    """
    return escape("".join(c if c in "\t\n" or c.isprintable() else "" for c in text))


def number(value: float) -> str:
    """Write a coordinate in mm to a hundredth, as short as it goes.

    >>> number(2.50), number(-0.001), number(10)
    ('2.5', '0', '10')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def line_through(points: Iterable[XY], *, closed: bool = False) -> str:
    """Return path data through points in mm.

    >>> line_through([(0, 0), (1, 0.5)], closed=True)
    'M0 0L1 0.5z'
    """
    steps = (f"{number(x)} {number(y)}" for x, y in points)
    return f"M{'L'.join(steps)}{'z' if closed else ''}"


def text_lines(lines: Sequence[str], at: XY, size_mm: float, **attributes: Attribute) -> str:
    """Return lines of text about ``at`` in mm, each ``size_mm`` high; centred unless anchored otherwise."""
    first = at[1] - (len(lines) - 1) * size_mm * LEADING / 2.0 + size_mm * _HALF_CAPITAL
    spans = (
        element("tspan", words(line), x=at[0], y=first + i * size_mm * LEADING) if len(lines) > 1 else words(line)
        for i, line in enumerate(lines)
    )
    look: dict[str, Attribute] = {"font_size": size_mm, "text_anchor": "middle", **attributes}
    return element("text", *spans, x=at[0], y=first, **look)


LEADING = 1.15
_HALF_CAPITAL = 0.36


def _value(value: Attribute) -> str:
    return quoteattr(value if isinstance(value, str) else number(value))
