"""What a case file leaves out, and what is taken in its place: said, never filled in silence."""

from __future__ import annotations

from collections.abc import Iterator

from soakline.casefile.kinds import Section
from soakline.casefile.schema import CaseIn, WoundIn
from soakline.errors import Finding
from soakline.fluid.posture import parse_posture
from soakline.units import show_number


def gaps(file: CaseIn) -> Iterator[Finding]:
    """Yield what to say about keys that were left out of a checked file, or that say the same thing twice."""
    yield from _about_the_file(file)
    if file.wound is not None:
        yield from _about_the_wound(file.wound)
    yield from _postures_twice(file)


def _about_the_file(file: CaseIn) -> Iterator[Finding]:
    if file.label is None:
        says = "not given; write a label that tells this case from others, never a patient's name"
        yield Finding("note", "label", says)
    if "purpose" not in file.model_fields_set:
        yield Finding("note", "purpose", "not given: taken as care, the gate is enforced")
    if file.time_zone is None and any(unit.started_at for unit in file.unit):
        says = "not given, so no time of the clock can be told; write it, such as Europe/Oslo"
        yield Finding("warn", "time_zone", says)
    if file.model is not None and file.purpose == "care":
        says = "given in a care case: its values stand in place of this version's own assumptions"
        yield Finding("warn", "model", says)


def _about_the_wound(wound: WoundIn) -> Iterator[Finding]:
    if wound.part is None:
        yield Finding("ask", "wound.part", "not told, taken as trunk until then: which part of the body? Write it")
    if "midline_offset_cm" not in wound.model_fields_set:
        says = f"not given: the opening's centre is taken to lie in the middle of the {wound.face}"
        yield Finding("note", "wound.midline_offset_cm", says)
    yield from _taken("wound.opening", wound.opening, "bed")
    for i, undermining in enumerate(wound.undermining):
        yield from _taken(f"wound.undermining.{i}", undermining, "ends", "basis")
    for i, tunnel in enumerate(wound.tunnel):
        yield from _taken(f"wound.tunnel.{i}", tunnel, "down_deg")


def _taken(where: str, section: Section, *keys: str) -> Iterator[Finding]:
    for key in keys:
        if key not in section.model_fields_set:
            value: object = getattr(section, key)
            shown = show_number(value) if isinstance(value, float) else str(value)
            yield Finding("note", f"{where}.{key}", f"not given: taken as {shown}")


def _postures_twice(file: CaseIn) -> Iterator[Finding]:
    names = [parse_posture(words).name for words in file.posture.allowed]
    for i, name in enumerate(names):
        if name in names[:i]:
            yield Finding("note", f"posture.allowed.{i}", f"{name} stands twice; it is shown once")
