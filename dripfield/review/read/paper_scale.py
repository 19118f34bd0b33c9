"""The scale of a sheet as it is written: ``1 in = 20 ft``, ``1" = 20'``, ``1:240``."""

from __future__ import annotations

import re
from collections.abc import Sequence

from dripfield.core.errors import input_error
from dripfield.core.units import Unit

_FEET = re.compile(
    r"(?<![\d.])1\s*(?:\"|''|”|″|in\b\.?|inch\b)\s*=\s*"
    r"(?P<feet>\d+(?:\.\d+)?)\s*(?:'|’|′|ft\b|feet\b|foot\b)",
    re.IGNORECASE,
)
_RATIO = re.compile(r"(?<![\d:.])1\s*:\s*(?P<ratio>\d{2,5})(?![\d:.])")


def parse_scale(text: str, unit: Unit) -> float | None:
    """Site units that one unit of paper stands for.

    Parameters
    ----------
    text : str
    unit : Unit
        The site's: paper is in inches for feet and in millimetres for metres.

    Returns
    -------
    float or None
        None where the text states no scale, or one of the other system.
    """
    feet = _FEET.search(text)
    if feet:
        return None if unit.is_metric else float(feet["feet"])
    ratio = _RATIO.search(text)
    if ratio is None:
        return None
    number = float(ratio["ratio"])
    return number / 1000.0 if unit.is_metric else number / 12.0


def stated_scale(text: str, unit: Unit) -> float:
    """The scale that a person gives.

    Raises
    ------
    InputError
        It cannot be read, or is one of the other system.
    """
    scale = parse_scale(text, unit)
    if scale is None:
        example = "1:200" if unit.is_metric else "1 in = 20 ft, or 1:240"
        raise input_error(
            f"the scale {text!r} cannot be read for a site in {unit.label}",
            f"write it as {example}",
            field="--scale",
        )
    return scale


def scale_on_sheet(texts: Sequence[str], unit: Unit) -> float | None:
    """The one scale that the writing of a sheet states; None for none or for several."""
    found = {scale for text in texts if (scale := parse_scale(text, unit)) is not None}
    return found.pop() if len(found) == 1 else None
