"""The keys of a case file, section by section, each with its kind and its unit in its name."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, ConfigDict, Field

from soakline.casefile.kinds import (
    Answered,
    Clock,
    Count,
    Day,
    Kind,
    Lying,
    Measured,
    Number,
    Outline,
    Section,
    When,
    Words,
    YesNo,
    Zone,
    choice,
    refuse,
    within,
)
from soakline.guard.anaesthetic import DoseState, parse_strength
from soakline.guard.change import Looks
from soakline.guard.foam import PieceKind, PieceState
from soakline.wound.measurements import Basis, Bed, Ends, Face, Part, Side

FORMAT = "soakline-case/1"
LIST_MOST = 200
LOG_MOST = 5_000

_Purpose = Literal["care", "teaching"]
_PortKind = Literal["instillation", "suction"]
_Method = Literal["length x width", "ellipse", "traced", "by this case file"]
_Curvature = Literal["girth", "flat"]

Pain = Annotated[Number, AfterValidator(within(0, 10, "of 10"))]
_YesNoUnknown = Annotated[Answered, *choice(Answered)]


class OpeningIn(Section):
    """The opening in the skin."""

    length_cm: Measured | None = Field(default=None, description="along 12–6")
    width_cm: Measured | None = Field(default=None, description="along 9–3")
    depth_cm: Measured | None = Field(default=None, description="straight in, skin to bed")
    bed: Annotated[Bed, *choice(Bed)] = Field(default="flat", description="bowl only without undermining")
    outline_cm: Outline | None = Field(
        default=None, description="traced edge instead of length and width; x towards 3, y towards 12 o'clock"
    )


class UnderminingIn(Section):
    """Undermining, probed from the wound edge."""

    from_clock: Clock | None = Field(default=None, alias="from", description="first hour; the range runs clockwise")
    to_clock: Clock | None = Field(default=None, alias="to", description="last hour; from = to is all round")
    clock: Clock | None = Field(default=None, description="one hour instead of from and to; stands for ±15°")
    reach_cm: Measured | None = Field(default=None, description="from the edge along the probe")
    height_cm: Measured | None = Field(
        default=None, description="pocket height: gap between bed and underside of the kept skin"
    )
    ends: Annotated[Ends, *choice(Ends)] = Field(
        default="full",
        description="full: the same over the range; taper: reach_cm in the middle, linear to 0 at both ends",
    )
    basis: Annotated[Basis, *choice(Basis)] = Field(default="measured", description="where the numbers come from")


class ProbedIn(Section):
    """What was probed without finding undermining."""

    none_found: list[Clock] = Field(default=[], max_length=LIST_MOST, description="hours probed without undermining")


class PocketIn(Section):
    """The pocket's edge as marked on the skin, instead of undermining."""

    outline_cm: Outline = Field(description="the pocket's edge; x towards 3, y towards 12 o'clock")
    height_cm: Measured | None = Field(default=None, description="pocket height")


class TunnelIn(Section):
    """A tunnel from the pocket's far edge, or the opening's edge, half-way up."""

    clock: Clock = Field(description="hour at which it leaves")
    length_cm: Measured | None = Field(default=None, description="along the probe")
    diameter_cm: Measured | None = Field(default=None, description="across")
    down_deg: Number = Field(default=0.0, description="below the plane of the skin, 0–90")
    end_felt: YesNo | None = Field(default=None, description="whether the probe felt its end")


class KeepClearIn(Section):
    """A structure that no port and no foam may touch."""

    what: Words = Field(description="what it is")
    clock: Clock = Field(description="hour")
    from_edge_cm: Number = Field(description="from the opening's edge into the pocket")
    radius_cm: Number = Field(description="half its width")


class WoundIn(Section):
    """The wound and where it lies."""

    face: Annotated[Face, *choice(Face)] = Field(description="side of the body part that the opening faces")
    part: Annotated[Part, *choice(Part)] | None = Field(default=None, description="body part")
    limb_side: Annotated[Side, *choice(Side)] | None = Field(default=None, description="for limbs only")
    girth_cm: Number | None = Field(
        default=None, description="of that part at the level of the opening; gives the curvature"
    )
    midline_offset_cm: Number = Field(
        default=0.0, description="opening's centre from the middle of that face, + towards 3 o'clock"
    )
    opening: OpeningIn = Field(default=OpeningIn(), description="the opening")
    undermining: list[UnderminingIn] = Field(default=[], max_length=LIST_MOST, description="undermining")
    probed: ProbedIn = Field(default=ProbedIn(), description="hours probed")
    pocket: PocketIn | None = Field(default=None, description="pocket marked on the skin")
    tunnel: list[TunnelIn] = Field(default=[], max_length=LIST_MOST, description="tunnels")
    keep_clear: list[KeepClearIn] = Field(default=[], max_length=LIST_MOST, description="structures to keep clear")


class PortIn(Section):
    """A port of the layout in use or proposed."""

    name: Words = Field(description="as written on the drape")
    kind: Annotated[_PortKind, *choice(_PortKind)] = Field(description="what runs through it")
    clock: Clock = Field(description="hour")
    from_edge_cm: Number = Field(description="into the pocket; 0 = at the edge, negative = over the opening")
    unit: Words | None = Field(default=None, description="name of its therapy unit")


class ExudateIn(Section):
    """What the wound gives of itself."""

    ml_per_h: Measured | None = Field(
        default=None, description="shared equally among units, unless a unit carries its own"
    )


class UnitIn(Section):
    """One therapy unit."""

    name: Words = Field(description="its letter")
    solution: Words | None = Field(default=None, description="what it instils")
    fill_ml: Number | None = Field(default=None, description="proposed or charted now")
    ordered_fill_ml: Number | None = Field(default=None, description="as signed")
    fill_min: Number | None = Field(default=None, description="time the fill runs")
    dwell_min: Number | None = Field(default=None, description="time the liquid soaks")
    suction_min: Number | None = Field(default=None, description="time of negative pressure")
    pressure_mmhg: Number | None = Field(default=None, description="negative: −125 is suction")
    canister_ml: Number | None = Field(default=None, description="size of the canister fitted")
    bag_ml: Number | None = Field(default=None, description="size of the solution bag")
    priming_ml: Number | None = Field(default=None, description="left in the tubing")
    started_at: When | None = Field(default=None, description="start of the first cycle")
    started_again: YesNo | None = Field(
        default=None, description="the second of two equal times, when the clocks go back"
    )
    exudate: ExudateIn | None = Field(default=None, description="of this unit alone")


class PostureIn(Section):
    """How the patient may lie."""

    allowed: list[Lying] = Field(
        default=[],
        max_length=LIST_MOST,
        description="supine, prone, left N, right N (that side down), head up N, head down N, and pairs; N in degrees",
    )
    turn_every_min: Annotated[Number, AfterValidator(within(15, 1_440, "min"))] | None = Field(
        default=None, description="longest time in one posture, by the pressure-relief order"
    )


class AnsweredIn(Section):
    """A stop that a named role took upon itself."""

    stop: Words = Field(description="key of the stop")
    by_role: Words = Field(description="who answers for it")
    reason: Words = Field(description="why")
    at: When = Field(description="when")


class GateIn(Section):
    """The stops and cautions: one key each, which takes "yes", "no" or "unknown"."""

    model_config = ConfigDict(extra="allow", strict=True, frozen=True)
    __pydantic_extra__: dict[str, _YesNoUnknown]  # pyright: ignore[reportIncompatibleVariableOverride]

    answered: list[AnsweredIn] = Field(default=[], max_length=LIST_MOST, description="stops answered for")


_NO_ANSWERS = GateIn.model_validate({})


class PatientIn(Section):
    """The patient, without a name."""

    adult: YesNo | None = Field(default=None, description="18 years or older")
    pregnant: _YesNoUnknown = Field(default="unknown", description="pregnant")
    weight_kg: Annotated[Number, AfterValidator(within(0.3, 500, "kg"))] | None = Field(
        default=None, description="weight"
    )
    weight_lb: Annotated[Number, AfterValidator(within(0.7, 1_100, "lb"))] | None = Field(
        default=None, description="weight as a scale in pounds shows it"
    )
    weight_again_kg: Annotated[Number, AfterValidator(within(0.3, 500, "kg"))] | None = Field(
        default=None, description="a second weighing, by another hand or scale"
    )
    weighed_on: Day | None = Field(default=None, description="day of weighing")
    height_cm: Annotated[Number, AfterValidator(within(30, 250, "cm"))] | None = Field(
        default=None, description="height; tells kg from lb"
    )
    conduction_disease: _YesNoUnknown = Field(default="unknown", description="disease of the heart's conduction")
    liver_failure: _YesNoUnknown = Field(default="unknown", description="liver failure")
    heart_failure: _YesNoUnknown = Field(default="unknown", description="heart failure")
    other_anaesthetic: _YesNoUnknown = Field(
        default="unknown", description="another local anaesthetic of unknown dose was given"
    )
    elderly_or_debilitated: _YesNoUnknown = Field(default="unknown", description="elderly or debilitated")


def _strength(value: object) -> object:
    if isinstance(value, str):
        read = parse_strength(value)
        given = read if isinstance(read, str) else f'"{value}" given'
        refuse(f"{given}; here it is percent = 1 for 1 % (10 mg/mL)")
    return value


class AnaestheticIn(Section):
    """A local anaesthetic, given or asked for."""

    drug: Words = Field(description="its generic name")
    percent: Annotated[Number, BeforeValidator(_strength), AfterValidator(within(0.01, 10, "%"))] | None = Field(
        default=None, description="1 % = 10 mg/mL"
    )
    volume_ml: Annotated[Number, AfterValidator(within(0, 1_000, "mL"))] | None = Field(
        default=None, description="volume"
    )
    epinephrine: YesNo | None = Field(default=None, description="with epinephrine")
    route: Words | None = Field(default=None, description="such as instilled, infiltrated, topical")
    at: When | None = Field(default=None, description="when")
    state: Annotated[DoseState, *choice(DoseState)] | None = Field(default=None, description="given, or asked for")
    wait_min: Annotated[Number, AfterValidator(within(0, 240, "min"))] | None = Field(
        default=None, description="ordered wait before the dressing is touched"
    )


class FoamIn(Section):
    """A piece in the wound, from placing to taking out; a name is used once in a case."""

    name: Words = Field(description="as on the label")
    kind: Annotated[PieceKind, *choice(PieceKind)] = Field(description="what it is")
    place: Words | None = Field(default=None, description="where it lies")
    placed_at: When | None = Field(default=None, description="when it was placed")
    placed_by_role: Words | None = Field(default=None, description="who placed it, and whether in theatre")
    state: Annotated[PieceState, *choice(PieceState)] | None = Field(default=None, description="in, or how it came out")
    trimmed: Words | None = Field(default=None, description="what was cut off it")
    torn: YesNo = Field(default=False, description="seen to tear while inside")
    out_at: When | None = Field(default=None, description="when it came out, or was not found")
    out_by_role: Words | None = Field(default=None, description="who took it out, or looked for it")
    matched_by_role: Words | None = Field(
        default=None, description="who laid the parts of a torn piece together and found them complete"
    )
    left_by_role: Words | None = Field(default=None, description="who left it in on purpose at a change")
    left_at: When | None = Field(default=None, description="at which change")
    left_reason: Words | None = Field(default=None, description="why")


class FoamCountIn(Section):
    """How many pieces label and note say, for one dressing."""

    label_count: Count | None = Field(default=None, description="on the label")
    note_count: Count | None = Field(default=None, description="in the note")
    at: When | None = Field(default=None, description="when the dressing was closed")
    resolved_by_role: Words | None = Field(default=None, description="who settled a difference, by the names")


class DressingIn(Section):
    """What the solution meets."""

    skin_preparation: Words | None = Field(default=None, description="what the skin was prepared with")
    previous_solution: Words | None = Field(default=None, description="what was instilled before")
    foam_material: Words | None = Field(default=None, description="what the foam is made of")
    hung_at: When | None = Field(default=None, description="when the solution was hung")
    next_change_at: When | None = Field(default=None, description="when the dressing is changed next")
    to_come_count: Count | None = Field(
        default=None, description="how many dressings are still to be placed in this stay, the next one included"
    )


class ProbeIn(Section):
    """What was found at one hour at a change; the wound itself stays as it is written above."""

    clock: Clock = Field(description="hour")
    reach_cm: Annotated[Number, AfterValidator(within(0, 60, "cm"))] | None = Field(
        default=None, description="from the edge along the probe"
    )
    height_cm: Annotated[Number, AfterValidator(within(0, 20, "cm"))] | None = Field(
        default=None, description="pocket height there"
    )
    looks: Annotated[Looks, *choice(Looks)] | None = Field(
        default=None, description="how bed and kept skin looked there"
    )


_Size = Annotated[Number, AfterValidator(within(0, 100, "cm"))]


class ChangeIn(Section):
    """One change of the dressing: pain, count, look and probe."""

    at: When = Field(description="when it began")
    by_role: Words | None = Field(default=None, description="who did it")
    pain_before: Pain | None = Field(default=None, description="pain before, 0–10")
    pain_during: Pain | None = Field(default=None, description="pain during, 0–10")
    pain_after: Pain | None = Field(default=None, description="pain after, 0–10")
    looked: Words | None = Field(default=None, description="what was seen")
    probed: Words | None = Field(default=None, description="what the probe found, hour by hour")
    length_cm: _Size | None = Field(default=None, description="of the opening along 12–6")
    width_cm: _Size | None = Field(default=None, description="of the opening along 9–3")
    depth_cm: _Size | None = Field(default=None, description="straight in, skin to bed")
    probe: list[ProbeIn] = Field(default=[], max_length=LIST_MOST, description="what was probed, hour by hour")
    objects_count: Count | None = Field(default=None, description="objects on the tray after the count out")
    closed_at: When | None = Field(default=None, description="when the new dressing was closed")


class StoreIn(Section):
    """A kit at hand."""

    kind: Words = Field(description="the site's own name for it")
    count: Count = Field(description="how many")
    contents: dict[Words, Count] = Field(default={}, description="parts by the site's part names")
    sheet_length_cm: _Size | None = Field(
        default=None, description="of a foam sheet in it; with its width it is cut from"
    )
    sheet_width_cm: _Size | None = Field(default=None, description="of a foam sheet in it")
    price: Annotated[Number, AfterValidator(within(0, 1_000_000, "in the site's currency"))] | None = Field(
        default=None, description="what one costs, in the site's currency; with it the kind can be ordered"
    )


class LogIn(Section):
    """One thing that happened."""

    at: When = Field(description="when")
    unit: Words | None = Field(default=None, description="name of the therapy unit")
    kind: Words = Field(
        description="instilled, canister, canister changed, returned, bag changed, colour, gas, blood, leak, pause, "
        "resume, restart, turned, trial fill, alarm, note"
    )
    ml: Annotated[Number, AfterValidator(within(0, 100_000, "mL"))] | None = Field(default=None, description="how much")
    colour: Words | None = Field(default=None, description="what it looked like")
    until: When | None = Field(default=None, description="end of a pause")
    again: YesNo | None = Field(default=None, description="the second of two equal times, when the clocks go back")
    says: Words | None = Field(default=None, description="anything else, in words")
    by_role: Words | None = Field(default=None, description="who wrote it down")


class MeasuredIn(Section):
    """An earlier measurement, for the trend."""

    at: When = Field(description="when")
    method: Annotated[_Method, *choice(_Method)] = Field(description="how it was measured")
    area_cm2: Annotated[Number, AfterValidator(within(0, 10_000, "cm²"))] | None = Field(
        default=None, description="area"
    )


class ModelIn(Section):
    """What the model assumes; for teaching and for checks against closed forms."""

    curvature: Annotated[_Curvature, *choice(_Curvature)] = Field(default="girth", description="of the body part")
    closed: YesNo = Field(default=False, description="the opening is roofed at pocket height")
    foam_porosity: Number = Field(default=0.97, description="1 = an empty cavity")
    foam_share: Measured | None = Field(default=None, description="share of the void that takes liquid at fill")
    capillary_height_cm: Measured | None = Field(default=None, description="0 = no wicking")
    permeability_m2: Measured | None = Field(default=None, description="foam in a wound, partly squeezed")


class CaseIn(Section):
    """The whole file."""

    format: Annotated[Literal["soakline-case/1"], Kind('"soakline-case/1"')] = Field(
        description="which contract this is"
    )
    label: Words | None = Field(default=None, description="a label, never a patient's name")
    purpose: Annotated[_Purpose, *choice(_Purpose)] = Field(
        default="care", description="teaching: the gate is reported but not enforced, every output is watermarked"
    )
    time_zone: Zone | None = Field(default=None, description="IANA name, such as Europe/Oslo")
    recorded_at: When | None = Field(default=None, description="when it was written down")
    confirmed: list[Words] = Field(
        default=[], max_length=LIST_MOST, description='dotted keys whose "ask" a person has answered'
    )
    wound: WoundIn | None = Field(default=None, description="the wound")
    port: list[PortIn] = Field(default=[], max_length=LIST_MOST, description="ports")
    unit: list[UnitIn] = Field(default=[], max_length=LIST_MOST, description="therapy units")
    exudate: ExudateIn = Field(default=ExudateIn(), description="of the whole wound")
    posture: PostureIn = Field(default=PostureIn(), description="postures")
    gate: GateIn = Field(default=_NO_ANSWERS, description="stops and cautions")
    patient: PatientIn | None = Field(default=None, description="the patient")
    anaesthetic: list[AnaestheticIn] = Field(default=[], max_length=LIST_MOST, description="local anaesthetic")
    foam: list[FoamIn] = Field(default=[], max_length=LIST_MOST, description="pieces in the wound")
    foam_count: FoamCountIn = Field(default=FoamCountIn(), description="counts on label and note")
    dressing: DressingIn = Field(default=DressingIn(), description="what the solution meets")
    change: list[ChangeIn] = Field(default=[], max_length=LIST_MOST, description="changes of the dressing")
    store: list[StoreIn] = Field(default=[], max_length=LIST_MOST, description="what is at hand")
    log: list[LogIn] = Field(default=[], max_length=LOG_MOST, description="what happened")
    measured: list[MeasuredIn] = Field(default=[], max_length=LIST_MOST, description="earlier measurements")
    model: ModelIn | None = Field(default=None, description="assumptions")
