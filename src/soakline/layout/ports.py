"""Ports as people place them: an hour, and so far from the edge into the pocket."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Port:
    """One port: ``from_edge_cm`` into the pocket at ``clock``; 0 is the edge, negative lies over the opening.

    ``unit`` is the letter of the therapy unit that it belongs to.
    """

    name: str
    kind: Literal["instillation", "suction"]
    clock: float
    from_edge_cm: float
    unit: str | None = None
