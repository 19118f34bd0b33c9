"""A layout as data: laterals in panels, and what was left out of it."""

from __future__ import annotations

from dataclasses import dataclass, field

from shapely import MultiPolygon, Polygon

from dripfield.core.arrays import Floats


@dataclass(frozen=True)
class Lateral:
    """One lateral as it is to be laid.

    Attributes
    ----------
    name : str
        ``L01`` … from the top down; with more than one panel ``A-L01``, ``B-L01`` ….
    panel : str
        ``A``, ``B`` … from left to right as seen looking down the slope.
    xy : (k, 2) float array
        Easting, northing of its vertices [site unit]; the chords between them depart from the
        smooth curve by much less than a stake can.
    elevation : float
        The elevation that the crew sets [site unit].
    """

    name: str
    panel: str
    xy: Floats
    elevation: float


@dataclass(frozen=True)
class PanelOption:
    """What dividing the bed into ``panels`` parts would give: one row of the person's choice.

    Attributes
    ----------
    panels, laterals : int
        Every lateral takes two connections, one at either end; they are counted by laterals.
    tubing, merit : float
        As :class:`dripfield.measures.field.Measured` has them.
    chosen : bool
    shortest, mean : float
        Lengths of its laterals [site unit].
    short : float
        Tubing that it is short of the most that would fit [site unit]: what full merit would be,
        less what lies within both tolerances.
    layout : Layout or None
        The laterals themselves; None where only the figures are known.
    """

    panels: int
    laterals: int
    tubing: float
    merit: float
    chosen: bool
    shortest: float = 0.0
    mean: float = 0.0
    short: float = 0.0
    layout: Layout | None = field(default=None, compare=False, repr=False)


@dataclass(frozen=True)
class Layout:
    """The laterals of a bed.

    Attributes
    ----------
    method : str
        The method asked for.
    laterals : tuple of Lateral
        Panel by panel, from the highest down within a panel.
    area : Polygon or MultiPolygon
        Where a lateral may lie: the bed less clearances, keepouts, setbacks and ground without
        survey.
    panels : dict of str to Polygon or MultiPolygon
        The part of ``area`` that each panel serves.
    seams : tuple of (k, 2) float arrays
        Lines between panels, running down the slope.
    options : tuple of PanelOption
        Merit, connections and tubing for one panel, two, three …
    dropped_count, dropped_length : int, float
        Pieces shorter than the least length: not laid.
    notes : tuple of str
        What a person should know of how it was made.
    """

    method: str
    laterals: tuple[Lateral, ...]
    area: Polygon | MultiPolygon
    panels: dict[str, Polygon | MultiPolygon] = field(default_factory=dict)
    seams: tuple[Floats, ...] = ()
    options: tuple[PanelOption, ...] = ()
    dropped_count: int = 0
    dropped_length: float = 0.0
    notes: tuple[str, ...] = ()


def panel_name(number: int) -> str:
    """``A``, ``B`` … for panel 0, 1 …; after ``Z`` come ``AA``, ``AB`` …"""
    name = ""
    number += 1
    while number:
        number, last = divmod(number - 1, 26)
        name = chr(ord("A") + last) + name
    return name
