"""What a record finds, as data for the tables and sheets."""

from __future__ import annotations

import math
from dataclasses import dataclass

from dripfield.core.arrays import Floats
from dripfield.core.verdict import Verdict
from dripfield.layout.model import Lateral
from dripfield.review.laid.ties import Tie
from dripfield.review.model.limits import LineVerdict
from dripfield.review.model.result import Difference, SetbackLine
from dripfield.review.read.shots import LaidShot
from dripfield.site.schema.review import ReferenceTable
from dripfield.survey.shots import Survey


@dataclass(frozen=True)
class ShotCheck:
    """One shot against its lateral; NaN where the shot belongs to none.

    ``offset`` is the distance to the design line, ``toward`` the bearing from the line to the shot
    [degrees clockwise from grid north], ``difference`` its elevation less the design's, the depth
    of the shots allowed for [site unit].
    """

    shot: LaidShot
    offset: float
    toward: float
    design: float
    difference: float
    ok: bool


@dataclass(frozen=True)
class MarkCheck:
    """A benchmark or reference that was shot along with the laterals.

    ``gap`` is how far from its place it was shot, ``height`` how much higher [site unit]; NaN where
    the site does not give its place or its elevation.
    """

    name: str
    gap: float
    height: float
    ok: bool


@dataclass(frozen=True)
class RecordLine:
    """One lateral as laid against its design; None or NaN where the shots do not tell.

    Attributes
    ----------
    name : str
    lateral : Lateral or None
        None for one that the design has not.
    xyz : (k, 3) float array
        Its shots in order along it.
    verdict : LineVerdict
    length_design, length_laid : float or None
        In plan [site unit].
    offset_mean, offset_max, end_offset : float
        Of the shots from the design line, and of the farther end from the design's end.
    level_min, level_max : float
        Elevations of its shots, the depth of the shots allowed for.
    spacing_design, spacing_min, spacing_mean, spacing_max : float
        On-centre distances to its neighbours.
    gap_max : float
        Greatest distance between two shots that follow each other [site unit]; infinite for one
        shot.
    """

    name: str
    lateral: Lateral | None
    xyz: Floats
    verdict: LineVerdict
    length_design: float | None
    length_laid: float | None
    differences: tuple[Difference, ...] = ()
    offset_mean: float = math.nan
    offset_max: float = math.nan
    end_offset: float = math.nan
    level_min: float = math.nan
    level_max: float = math.nan
    spacing_design: float = math.nan
    spacing_min: float = math.nan
    spacing_mean: float = math.nan
    spacing_max: float = math.nan
    gap_max: float = math.inf
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True)
class Record:
    """What was laid, compared and tied; ``causes`` are what many differences have in common."""

    source: Survey
    lines: tuple[RecordLine, ...]
    shots: tuple[ShotCheck, ...]
    marks: tuple[MarkCheck, ...]
    setbacks: tuple[SetbackLine, ...]
    references: tuple[ReferenceTable, ...]
    ties: tuple[Tie, ...]
    verdict: Verdict
    causes: tuple[str, ...]
    notes: tuple[str, ...]
    unchecked: tuple[str, ...]
