"""Nominal pipe: Schedule 40 sizes and their bores.

Inside diameters are those of PVC pipe to ASTM D1785, Schedule 40 (outside diameter less twice the
least wall), as tabulated in trade handbooks.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass

from dripfield.core.errors import input_error
from dripfield.core.units import Unit

SCHEDULE_40 = {
    "1/2 in": 0.622,
    "3/4 in": 0.824,
    "1 in": 1.049,
    "1-1/4 in": 1.380,
    "1-1/2 in": 1.610,
    "2 in": 2.067,
    "2-1/2 in": 2.469,
    "3 in": 3.068,
    "4 in": 4.026,
    "6 in": 6.065,
}
"""Bore of each nominal size [in]."""


@dataclass(frozen=True)
class PipeSize:
    """A nominal size, or none where the bore was entered, and the bore in the site's unit."""

    size: str
    bore: float


def pipe_size(
    unit: Unit, pipe: str | None = None, bore: float | None = None, *, field: str | None = None
) -> PipeSize:
    """The pipe that a site names by its nominal size or its bore.

    Parameters
    ----------
    unit : Unit
        Of the site.
    pipe : str or None
        Nominal size, Schedule 40, such as ``1-1/4 in``.
    bore : float or None
        Inside diameter instead [in; mm on a site in metres].
    field : str or None
        Key to name in an error.

    Returns
    -------
    PipeSize

    Raises
    ------
    InputError
        Both or neither given, a size that is not in the table, or a bore that no pipe has.
    """
    if (pipe is None) == (bore is None):
        raise input_error(
            "a pipe has both a nominal size and a bore" if pipe else "a pipe has no size",
            'give pipe = "1-1/4 in" or bore = 1.380, one of the two',
            field=field,
        )
    inch = 0.0254 / unit.metres
    if bore is not None:
        most = 600.0 if unit.is_metric else 24.0
        if not 0.0 < bore <= most:
            raise input_error(
                f"a bore of {bore:g} {'mm' if unit.is_metric else 'in'} is no pipe's",
                "give the inside diameter in mm" if unit.is_metric else "give it in inches",
                field=field,
            )
        return PipeSize("", bore * (0.001 / unit.metres if unit.is_metric else inch))
    key = _plain(str(pipe))
    if key in SCHEDULE_40:
        return PipeSize(key, SCHEDULE_40[key] * inch)
    raise input_error(
        f'"{pipe}" is not a Schedule 40 size that is known',
        f'write "{_closest(key)}", the closest, or give the bore',
        field=field,
    )


def steps(unit: Unit, least: str = "3/4 in") -> tuple[PipeSize, ...]:
    """Nominal sizes from ``least`` up, the smallest first."""
    names = list(SCHEDULE_40)
    return tuple(pipe_size(unit, name) for name in names[names.index(least) :])


def _plain(text: str) -> str:
    """One way of writing a size: ``1 1/4"`` and ``1-1/4in`` are ``1-1/4 in``."""
    text = re.sub(r"\s*(in\.?|inch|inches|\"|″)\s*$", "", text.strip().lower())
    text = re.sub(r"(?<=\d)\s+(?=\d)", "-", text.strip())
    return f"{text} in"


def _inches(size: str) -> float | None:
    match = re.fullmatch(r"(?:(\d+(?:\.\d+)?)-?)??(?:(\d+)/(\d+))? in", size)
    if match is None or match.group(0) == " in":
        return None
    whole = float(match[1] or 0)
    return whole + (int(match[2]) / int(match[3]) if match[2] and int(match[3]) else 0.0)


def _closest(key: str) -> str:
    inches = _inches(key)
    if inches is None:
        return (difflib.get_close_matches(key, SCHEDULE_40, 1, 0.0) or ["1-1/4 in"])[0]
    return min(SCHEDULE_40, key=lambda name: abs((_inches(name) or 0.0) - inches))
