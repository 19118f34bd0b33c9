"""Settings of the field method, with every default filled in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from dripfield.staking.model import Tool
from dripfield.staking.settings import read_backsight

if TYPE_CHECKING:
    from dripfield.ground.ground import Ground
    from dripfield.survey.shots import Survey

TUBE = 0.025
"""Of the spacing: how far the tube through the marks may stray from a lateral.

Half of the twentieth that stakes are held to; the rest is for what is rounded and followed."""

LONGEST = 10.0
"""Spacings between marks where a line is straight (common practice, no source)."""


@dataclass(frozen=True)
class FieldSettings:
    """How marks are chosen and set; lengths in the site's unit.

    Attributes
    ----------
    tool : "instrument" or "tape"
        What sets the guide lines and the marks that no stick reaches.
    gauged : bool
        Whether a stick sets all other marks.
    tolerance : float
        Greatest distance between a lateral and the tube bent through its marks.
    longest : float
        Greatest distance between marks of a lateral.
    first : int
        Number of the first mark.
    tape : float
        Longest tape.
    rod_length : float
    backsight : float or None
        Reading on the benchmark from the first set-up; None: set-ups are planned.
    base_line : two names or None
        None: chosen.
    """

    tool: Tool = "instrument"
    gauged: bool = True
    tolerance: float = 0.05
    longest: float = 20.0
    first: int = 1001
    tape: float = 200.0
    rod_length: float = 13.0
    backsight: float | None = None
    base_line: tuple[str, str] | None = None


def field_settings(ground: Ground) -> FieldSettings:
    """The settings of a site, by its ground.

    Rod, backsight and base line are those of ``[crew]``; marks stand no farther apart than
    ``[layout] stake_interval``; a tape of 200 ft (60 m) and a rod of 13 ft
    (4 m) are common practice, no source. Marks are numbered from the first round thousand, plus
    one, above every numbered shot.
    """
    site = ground.site
    unit, crew = site.unit, site.file.crew
    return FieldSettings(
        tolerance=TUBE * site.settings.spacing,
        longest=min(LONGEST * site.settings.spacing, site.settings.stake_interval),
        first=first_point_number(ground.read),
        tape=unit.default(200.0, 60.0),
        rod_length=unit.default(13.0, 4.0) if crew.rod_length is None else crew.rod_length,
        backsight=None
        if crew.backsight is None
        else read_backsight(crew.backsight, unit, "[crew] backsight"),
        base_line=crew.base_line,
    )


def first_point_number(survey: Survey) -> int:
    """The first round thousand, plus one, above every numbered shot of the survey."""
    numbers = [int(name) for name in survey.names if name.isascii() and name.isdigit()]
    return max(numbers, default=0) // 1000 * 1000 + 1001
