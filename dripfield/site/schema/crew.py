"""``[benchmark]``, ``[crew]`` and ``[emitters]``: what the crew's sheets need beside the layout."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

Positive = Annotated[float, Meta(gt=0)]
Paper = Literal["letter", "tabloid", "A4", "A3"]


class Benchmark(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[benchmark]``: a mark of known elevation near the bed."""

    name: str
    elevation: float
    northing: float | None = None
    easting: float | None = None
    description: str | None = None

    def __post_init__(self) -> None:
        """Refuse half a position."""
        if (self.northing is None) != (self.easting is None):
            raise ValueError("Give the benchmark both a northing and an easting, or neither")


class CrewTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[crew]``: paper, rod, tape and base line.

    Attributes
    ----------
    paper : str or None
        None: letter for feet, A4 for metres.
    scale : float or None
        Feet to an inch, or the number N of 1:N for metres; None: chosen to fit.
    rod_length : float or None
        Greatest reading of the rod; its foot reads zero [site unit]. None: 13 ft, 4 m.
    backsight : float or None
        Reading on the benchmark from the first set-up [site unit]; None: set-ups are planned.
    tape_accuracy : float or None
        What a tape is laid and read to [site unit]. None: 0.1 ft, 0.01 m.
    base_line : two names or None
        Survey points, the benchmark or bed corners (``BED1`` …) that offsets are measured from.
        None: chosen.
    """

    paper: Paper | None = None
    scale: Positive | None = None
    rod_length: Positive | None = None
    backsight: Annotated[float, Meta(ge=0)] | None = None
    tape_accuracy: Positive | None = None
    base_line: tuple[str, str] | None = None


class EmitterTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[emitters]``: the user's own product figures.

    ``spacing`` along the tubing in the site's unit; ``flow`` of one emitter, in US gallons an hour
    for feet and litres an hour for metres.
    """

    spacing: Positive
    flow: Positive | None = None
