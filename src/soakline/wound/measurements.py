"""What the probe and the ruler gave: opening, undermining, pocket, tunnels, structures to keep clear."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from soakline.units import Measured, Range

Face = Literal["front", "back", "left", "right"]
Part = Literal["trunk", "upper arm", "forearm", "thigh", "lower leg"]
Side = Literal["left", "right"]
Bed = Literal["flat", "bowl"]
Ends = Literal["full", "taper"]
Basis = Literal["measured", "estimated", "assumed"]
Outline = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Opening:
    """The opening in the skin, in cm: length along 12–6, width along 9–3, or a traced edge; depth straight in.

    ``outline_cm`` holds (x towards 3, y towards 12) and takes the place of length and width. None is "not measured".
    """

    length_cm: Measured = None
    width_cm: Measured = None
    depth_cm: Measured = None
    bed: Bed = "flat"
    outline_cm: Outline | None = None


@dataclass(frozen=True, slots=True)
class Undermining:
    """Undermining over a range of hours, probed from the wound edge; ``clock`` alone stands for ±15°.

    ``from_clock`` = ``to_clock`` is all round. ``reach_cm`` runs along the probe, ``height_cm`` is the pocket height.
    """

    from_clock: float | None = None
    to_clock: float | None = None
    clock: float | None = None
    reach_cm: Measured = None
    height_cm: Measured = None
    ends: Ends = "full"
    basis: Basis = "measured"


@dataclass(frozen=True, slots=True)
class Pocket:
    """The pocket's edge as marked on the skin, (x towards 3, y towards 12) in cm, and its height in cm."""

    outline_cm: Outline
    height_cm: Measured = None


@dataclass(frozen=True, slots=True)
class Tunnel:
    """A narrow track from the pocket's far edge (or the opening's edge) at an hour, half-way up; cm and degrees."""

    clock: float
    length_cm: Measured = None
    diameter_cm: Measured = None
    down_deg: float = 0.0
    end_felt: bool | None = None


@dataclass(frozen=True, slots=True)
class KeepClear:
    """A structure no port and no foam may touch: a disc of ``radius_cm``, ``from_edge_cm`` into the pocket."""

    what: str
    clock: float
    from_edge_cm: float
    radius_cm: float


@dataclass(frozen=True, slots=True)
class Wound:
    """One wound as measured: where on the body, its opening, and all that runs under the skin.

    ``girth_cm`` is that part's girth at the opening; ``midline_offset_cm`` is the opening's centre from the middle of
    the face, + towards 3 o'clock. ``none_found`` lists hours probed without undermining.
    """

    face: Face
    part: Part
    opening: Opening
    girth_cm: float | None = None
    midline_offset_cm: float = 0.0
    limb_side: Side | None = None
    undermining: tuple[Undermining, ...] = ()
    none_found: tuple[float, ...] = ()
    pocket: Pocket | None = None
    tunnel: tuple[Tunnel, ...] = ()
    keep_clear: tuple[KeepClear, ...] = ()


@dataclass(frozen=True, slots=True)
class Assumptions:
    """What nobody measured and the model needs: curvature, a sealed roof, and the foam.

    ``closed`` roofs the opening at pocket height. ``foam_share`` is the share of the void that takes liquid at a fill.
    Foam values are from memory (``foam.*`` in ``sources``) and are always run as ranges.
    """

    curvature: Literal["girth", "flat"] = "girth"
    closed: bool = False
    foam_porosity: float = 0.97
    foam_share: float | Range = field(default=Range(0.5, 0.8, 1.0))
    capillary_height_cm: float | Range = field(default=Range(0.3, 1.0, 3.0))
    permeability_m2: float | Range = field(default=Range(1e-9, 3e-9, 1e-8))
