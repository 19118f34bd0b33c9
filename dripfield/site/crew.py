"""``[benchmark]``, ``[crew]`` and ``[emitters]``: what the crew's sheets need beside the layout."""

from __future__ import annotations

from typing import Annotated

import msgspec
from msgspec import Meta


class Benchmark(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[benchmark]``: a mark of known elevation near the bed."""

    name: str
    elevation: float
    northing: float | None = None
    easting: float | None = None
    description: str | None = None


class CrewTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[crew]``: paper, rod and instrument (grows with :mod:`dripfield.sheets`)."""


class EmitterTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[emitters]``: the user's own product figures."""

    spacing: Annotated[float, Meta(gt=0)]
    flow: Annotated[float, Meta(gt=0)] | None = None
