"""Which parts of a lateral are out of tolerance, and how a sheet says so."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.measures.laterals import LateralMeasure

Fault = Literal["level", "spacing", "level and spacing"]

FAULTS: dict[int, Fault] = {1: "level", 2: "spacing", 3: "level and spacing"}
FAULT_MARKS: dict[Fault, str] = {"level": "L", "spacing": "S", "level and spacing": "L S"}


@dataclass(frozen=True)
class MissedPart:
    """A stretch of a lateral, (k, 2), with the tolerance that it leaves."""

    fault: Fault
    xy: Floats


def missed_parts(lateral: LateralMeasure) -> list[MissedPart]:
    """The stretches out of tolerance, in order along the lateral.

    A stretch runs from halfway before its first faulty sample to halfway after its last.
    """
    code = 1 * ~lateral.level + 2 * ~lateral.spaced
    starts = np.flatnonzero(np.concatenate(([True], np.diff(code) != 0)))
    stops = np.append(starts[1:], len(code))
    parts = []
    for start, stop in zip(starts, stops, strict=True):
        fault = FAULTS.get(int(code[start]))
        if fault is None:
            continue
        xy = lateral.xy[start:stop]
        if start > 0:
            xy = np.vstack((lateral.xy[start - 1 : start + 1].mean(axis=0), xy))
        if stop < len(code):
            xy = np.vstack((xy, lateral.xy[stop - 1 : stop + 1].mean(axis=0)))
        if len(xy) > 1:
            parts.append(MissedPart(fault, xy))
    return parts


def mark(lateral: LateralMeasure) -> str:
    """The mark of a lateral in a table: ``L`` out of level, ``S`` out of spacing, else empty."""
    return " ".join(
        letter for letter, ok in (("L", lateral.level_ok), ("S", lateral.spacing_ok)) if not ok
    )
