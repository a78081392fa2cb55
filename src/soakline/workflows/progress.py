"""Is it smaller than before: earlier measurings in the file against today's, and one measuring against the next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from soakline.progress.trend import Change, Earlier, Method, Reading, area_error_share, compare
from soakline.units import Range
from soakline.workflows.answers import WoundAnswer
from soakline.wound.measurements import Wound

PROGRESS_MEANS = (
    "A smaller size is no verdict on healing: published thresholds are of other wounds "
    "(measuring.four_week_thresholds), and how the bed looks counts."
)


def progress_of(earlier: Sequence[Earlier], wound: Wound, size: WoundAnswer) -> tuple[Change, ...]:
    """Return each earlier area of the opening against today's, measured the same way where today's measures allow."""
    return tuple(
        compare(_area(one.method, one.area_cm2), _today(one.method, wound, size), f"on {one.at:%d %b}")
        for one in earlier
        if one.area_cm2 and size.opening_cm2
    )


def step_between(before: WoundAnswer, after: WoundAnswer) -> Iterator[Change]:
    """Give what became of the opening, of opening and pocket, and of the void, as far as both measurings tell."""
    areas = (
        ("opening", before.opening_cm2, after.opening_cm2),
        ("opening and pocket", before.bed_cm2 if before.pocket_cm2 else None, after.bed_cm2),
    )
    for what, first, then in areas:
        if first and then:
            yield compare(_area("by this case file", first, what), _area("by this case file", then, what))
    if isinstance(before.void_ml, Range) and isinstance(after.void_ml, Range):
        yield compare(_void(before.void_ml), _void(after.void_ml))


def say_progress(changes: Sequence[Change]) -> tuple[str, ...]:
    """Write what became of each size, and what that does not say; nothing where nothing was measured before."""
    return (*(one.says for one in changes), PROGRESS_MEANS) if changes else ()


def _today(method: Method, wound: Wound, size: WoundAnswer) -> Reading:
    """Return today's opening by that method, or by today's own where its measures do not allow it."""
    traced = wound.opening.outline_cm is not None
    by_ruler = size.length_x_width_cm2
    opening = size.opening_cm2 or 0.0
    if method == "length x width" and by_ruler:
        return _area(method, by_ruler)
    if method == "by this case file" or (method == "traced") == traced:
        return _area(method, opening)
    return _area("traced" if traced else "ellipse", opening)


def _area(method: Method, area_cm2: float | None, what: str = "opening") -> Reading:
    area = area_cm2 or 0.0
    return Reading(what, method, area, "cm²", area_error_share(area))


def _void(void_ml: Range) -> Reading:
    return Reading(
        "void", "by this case file", void_ml.likely, "mL", (void_ml.high - void_ml.low) / 2.0 / void_ml.likely
    )
