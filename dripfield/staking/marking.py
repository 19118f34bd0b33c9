"""How a lateral is shown between its marks: by a string where it is straight, else by paint."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from dripfield.core.arrays import Floats

if TYPE_CHECKING:
    from dripfield.design.model import Design
    from dripfield.staking.model import FieldPlan

Lay = Literal["string", "paint"]

STRAIGHT = 0.05
"""Spacings: a lateral within this of the chord between its ends is pulled along a string."""


@dataclass(frozen=True)
class Marking:
    """How one lateral is marked.

    Attributes
    ----------
    lateral : str
    lay : "string" or "paint"
        Straight between its first and last flag, or painted in a smooth curve through all.
    guide : bool
        Whether it is a guide line.
    flags : int
        One at each mark.
    length : float
        Of string or of paint [site unit].
    """

    lateral: str
    lay: Lay
    guide: bool
    flags: int
    length: float


def markings(design: Design, plan: FieldPlan) -> tuple[Marking, ...]:
    """Flags, strings and paint of every lateral, in the layout's order.

    Parameters
    ----------
    design : Design
    plan : FieldPlan
        Of the design.

    Returns
    -------
    tuple of Marking
    """
    count = {name: len(rows) for name, rows in plan.of_lateral().items()}
    most = STRAIGHT * design.site.settings.spacing
    return tuple(
        Marking(
            lateral=lateral.name,
            lay="string" if from_chord(lateral.xy) <= most else "paint",
            guide=lateral.name in plan.guides,
            flags=count[lateral.name],
            length=one.length,
        )
        for lateral, one in design.laterals.values()
    )


def from_chord(xy: Floats) -> float:
    """Greatest distance of a line's vertices (k, 2) from the chord between its ends."""
    near = xy - xy[0]
    chord = near[-1]
    size = float(np.hypot(*chord))
    if size == 0.0:
        return float(np.hypot(*near.T).max())
    along = near @ chord / size
    across = np.abs(near[:, 0] * chord[1] - near[:, 1] * chord[0]) / size
    beyond = np.maximum(np.maximum(-along, along - size), 0.0)
    return float(np.hypot(across, beyond).max())


def total(marks: Sequence[Marking], lay: Lay) -> float:
    """Length of string or of paint in all [site unit]."""
    return sum(one.length for one in marks if one.lay == lay)
