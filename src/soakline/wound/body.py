"""The part of the body under the wound: its axes, its curve, and the words for its sides."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.wound.clock import unit_vector
from soakline.wound.measurements import Assumptions, Face, Wound

# Body axes: the patient's right, front, head.
NORMAL: dict[Face, tuple[float, float, float]] = {
    "front": (0.0, 1.0, 0.0),
    "back": (0.0, -1.0, 0.0),
    "left": (-1.0, 0.0, 0.0),
    "right": (1.0, 0.0, 0.0),
}
HEAD = (0.0, 0.0, 1.0)

# 3 o'clock is the patient's left on the front and right on the back (source key ``measuring.handedness``).
THREE_OCLOCK: dict[Face, str] = {
    "front": "PATIENT'S LEFT",
    "back": "PATIENT'S RIGHT",
    "left": "PATIENT'S BACK",
    "right": "PATIENT'S FRONT",
}
NINE_OCLOCK: dict[Face, str] = {
    "front": "PATIENT'S RIGHT",
    "back": "PATIENT'S LEFT",
    "left": "PATIENT'S FRONT",
    "right": "PATIENT'S BACK",
}
# Half of the angle between two of eight compass points.
_ALONG_ONE_AXIS = math.sin(math.radians(22.5))


@dataclass(frozen=True, slots=True, eq=False)
class BodyFrame:
    """Where the sheet lies in the body: a plane, or a cylinder of ``radius_cm`` about the part's long axis.

    ``normal``, ``towards_3`` and ``towards_12`` are unit vectors (3,) in body axes at the middle of the face;
    ``offset_cm`` is the opening's centre from there. Sheet lengths are arc lengths on the bed.
    """

    normal: NDArray[float64]
    towards_3: NDArray[float64]
    towards_12: NDArray[float64]
    radius_cm: float | None
    offset_cm: float

    def place(self, u_cm: NDArray[float64], v_cm: NDArray[float64], height_cm: NDArray[float64]) -> NDArray[float64]:
        """Return body points in cm, (n, 3), of sheet points (n,) at heights (n,) above the bed.

        Several heights of each point, (k, n), give (k, n, 3).
        """
        along, sine, cosine, fall = u_cm, np.zeros(len(u_cm)), np.ones(len(u_cm)), np.zeros(len(u_cm))
        if self.radius_cm is not None:
            angle = (self.offset_cm + u_cm) / self.radius_cm
            sine, cosine = np.sin(angle), np.cos(angle)
            along, fall = self.radius_cm * sine, self.radius_cm * (1.0 - cosine)
        each = np.atleast_2d(height_cm)
        placed = _place(along, v_cm, each, sine, cosine, fall, self.normal, self.towards_3, self.towards_12)
        return placed.reshape(*height_cm.shape, 3)

    def axes(self, u_cm: NDArray[float64]) -> tuple[NDArray[float64], NDArray[float64]]:
        """Return the outward normal and the direction of rising u, each (n, 3) without unit, at sheet points (n,)."""
        if self.radius_cm is None:
            shape = (len(u_cm), 3)
            return np.broadcast_to(self.normal, shape), np.broadcast_to(self.towards_3, shape)
        angle = (self.offset_cm + u_cm) / self.radius_cm
        sine, cosine = np.sin(angle)[:, None], np.cos(angle)[:, None]
        return cosine * self.normal + sine * self.towards_3, cosine * self.towards_3 - sine * self.normal


def frame_of(wound: Wound, assumptions: Assumptions) -> BodyFrame:
    """Return the frame of a wound; curvature comes from the girth unless the flat model is asked for.

    Raises ValueError when the girth is needed and was not measured.
    """
    normal, head = np.array(NORMAL[wound.face]), np.array(HEAD)
    if assumptions.curvature == "flat":
        return BodyFrame(normal, np.cross(head, normal), head, None, 0.0)
    if wound.girth_cm is None:
        msg = "the girth was not measured: it gives the curve of the body part"
        raise ValueError(msg)
    return BodyFrame(normal, np.cross(head, normal), head, wound.girth_cm / math.tau, wound.midline_offset_cm)


def side_words(wound: Wound, direction_deg: float) -> str:
    """Say in words towards which side of the patient a direction (degrees clockwise from 12) points.

    >>> from soakline.wound.measurements import Opening
    >>> side_words(Wound("front", "trunk", Opening()), 90.0)
    "PATIENT'S LEFT"
    """
    towards_u, towards_v = unit_vector(direction_deg)
    ends = ("towards the head", "towards the feet") if wound.part == "trunk" else ("proximal", "distal")
    words: list[str] = []
    if abs(towards_u) > _ALONG_ONE_AXIS:
        words.append((THREE_OCLOCK if towards_u > 0.0 else NINE_OCLOCK)[wound.face])
    if abs(towards_v) > _ALONG_ONE_AXIS:
        words.append(ends[0 if towards_v > 0.0 else 1])
    return " and ".join(words)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _place(
    along: Any, v: Any, height: Any, sine: Any, cosine: Any, fall: Any, normal: Any, towards_3: Any, towards_12: Any
) -> Any:
    """Points at heights (k, n) above a bed that lies ``along`` and ``fall`` from the middle of the face, (k, n, 3)."""
    heights, n = height.shape
    out = np.empty((heights, n, 3))
    for k in range(heights):
        for i in range(n):
            outward = height[k, i] * cosine[i] - fall[i]
            across = along[i] + height[k, i] * sine[i]
            for axis in range(3):
                out[k, i, axis] = outward * normal[axis] + across * towards_3[axis] + v[i] * towards_12[axis]
    return out
