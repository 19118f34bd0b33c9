"""What the site itself asks of its bed, and whether the design keeps it.

These are plain notes of the design, not published rules: those are in :mod:`dripfield.rules`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dripfield.bed.design import BedDesign
from dripfield.bed.pieces import overlay, pieces_of
from dripfield.bed.sieves import read_sieves
from dripfield.core.errors import input_error

_ROUNDING = 1e-6


@dataclass(frozen=True)
class DesignNote:
    """Something the site asks of its bed.

    Attributes
    ----------
    name : str
        ``sand depth`` or ``separation``.
    met : bool
    text : str
        What was found, with the value and the limit.
    source : str
        Who asks for it, as the site says.
    """

    name: str
    met: bool
    text: str
    source: str


def design_notes(design: BedDesign) -> tuple[DesignNote, ...]:
    """What the site asks of its bed, held against the design.

    Raises
    ------
    InputError
        A sieve test that cannot be, or a separation asked for without a limiting layer.
    """
    read_sieves(design.section.sieve)  # one that cannot be is refused, whatever it is held against
    return (*_sand_depth(design), *_separation(design))


def note_lines(notes: Sequence[DesignNote]) -> list[str]:
    """The notes in words, one line each; marked as the site's own."""
    return [
        f"{'met' if note.met else 'NOT MET'}: {note.name}: {note.text} (design note: {note.source})"
        for note in notes
    ]


def deepest_dig(design: BedDesign) -> float:
    """Greatest depth of the dig under existing ground [site unit]."""
    levels = design.pieces.levels
    return float(np.max(levels["ground"] - levels["stripped"]))


def _sand_depth(design: BedDesign) -> list[DesignNote]:
    wanted = design.section.sand
    if wanted == 0.0:
        return []
    depth = design.sand_under_tubing()
    x, y = design.inside.xy.reshape(-1, 2)[int(depth.argmin())]
    unit = design.site.unit
    return [
        DesignNote(
            "sand depth",
            bool(depth.min() >= wanted - _ROUNDING),
            f"at least {depth.min() + 0.0:.{unit.places}f} {unit.short} of sand under the tubing "
            f"(least at N {y:.1f}, E {x:.1f}), {wanted:g} {unit.short} wanted",
            "the site's own section",
        )
    ]


def least_separation(design: BedDesign) -> tuple[float, float, float] | None:
    """Least height of the tubing over the limiting layer, with its easting and northing.

    None where the site names no limiting layer [site unit].
    """
    if design.limiting is None:
        return None
    both = overlay(design.inside.only("sand"), pieces_of(design.limiting, "limiting"))
    height = both.levels["sand"] + design.section.tubing_height - both.levels["limiting"]
    place = int(height.argmin())
    x, y = both.xy.reshape(-1, 2)[place]
    return float(height.reshape(-1)[place]), float(x), float(y)


def _separation(design: BedDesign) -> list[DesignNote]:
    wanted = design.section.separation
    if wanted is None:
        return []
    least = least_separation(design)
    if least is None:
        raise input_error(
            f"a separation of {wanted:g} is asked for, but no limiting layer is given",
            "add limiting (an elevation) or limiting_surface (a survey file), or remove separation",
            file="site.toml",
            field="[bed.section] separation",
        )
    height, x, y = least
    unit = design.site.unit
    return [
        DesignNote(
            "separation",
            height >= wanted - _ROUNDING,
            f"{height:.{unit.places}f} {unit.short} from the tubing down to the limiting layer at "
            f"N {y:.1f}, E {x:.1f}, at least {wanted:g} {unit.short} wanted",
            design.section.separation_source or "the site's own requirement",
        )
    ]
