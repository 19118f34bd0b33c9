"""How zones and pipe are told apart, also in grey: by lightness, dashes and hatching together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

Dashes = tuple[float, tuple[float, ...]] | str


@dataclass(frozen=True)
class ZoneLook:
    """The laterals of a zone, and the ground that they serve.

    Attributes
    ----------
    ink : str
        Of its laterals.
    dashes : matplotlib line style
    wash : str
        Of its ground.
    hatch : str or None
        Of its ground, in a legend.
    """

    ink: str
    dashes: Dashes
    wash: str
    hatch: str | None = None


_LOOKS = (
    ZoneLook("#22303a", "-", "#ffffff"),
    ZoneLook("#5e4a36", (0.0, (7.0, 2.0)), "#e6ddd0"),
    ZoneLook("#33433f", (0.0, (7.0, 1.6, 1.6, 1.6)), "#cfd9d8"),
    ZoneLook("#4a4048", (0.0, (2.6, 1.6)), "#f1ecf0"),
    ZoneLook("#26383b", (0.0, (10.0, 1.6, 1.6, 1.6, 1.6, 1.6)), "#dbe2e6"),
    ZoneLook("#57503b", (0.0, (4.0, 1.2, 1.2, 1.2)), "#c9c4b4"),
)

SUPPLY: dict[str, Any] = {"lw": 2.4, "color": "#000000"}
RETURN: dict[str, Any] = {"lw": 1.8, "color": "#000000", "ls": (0.0, (3.2, 1.4))}
BLANK: dict[str, Any] = {"lw": 0.8, "color": "#000000", "ls": (0.0, (1.2, 1.0))}


def zone_look(number: int) -> ZoneLook:
    """The look of a zone by its place, from 0; looks come round again after six."""
    return _LOOKS[number % len(_LOOKS)]
