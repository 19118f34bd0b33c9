"""Ground with elevations known in closed form, and shorthand for laterals."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from dripfield.layout.model import Lateral


@dataclass(frozen=True)
class Plane:
    """z = 100 + east x + north y about an origin; NaN east of ``known_to``."""

    east: float = 0.0
    north: float = 0.1
    origin: tuple[float, float] = (0.0, 0.0)
    known_to: float = np.inf

    def elevation(self, xy):
        x, y = (np.asarray(xy) - self.origin).T
        return np.where(x <= self.known_to, 100.0 + self.east * x + self.north * y, np.nan)

    def gradient(self, xy):
        return np.tile((self.east, self.north), (len(xy), 1)).astype(float)


@dataclass(frozen=True)
class Cone:
    """z = 100 - slope r: a nose whose level lines are circles about the origin."""

    slope: float = 0.1
    origin: tuple[float, float] = (0.0, 0.0)

    def elevation(self, xy):
        return 100.0 - self.slope * np.hypot(*(np.asarray(xy) - self.origin).T)

    def gradient(self, xy):
        away = np.asarray(xy) - self.origin
        return -self.slope * away / np.hypot(*away.T)[:, None]


@pytest.fixture
def plane() -> type[Plane]:
    return Plane


@pytest.fixture
def cone() -> type[Cone]:
    return Cone


@pytest.fixture
def lateral() -> Callable[..., Lateral]:
    """``lateral(points, elevation, panel, name)``."""

    def make(points, elevation=100.0, panel="A", name="L01") -> Lateral:
        return Lateral(name, panel, np.asarray(points, dtype=float), elevation)

    return make
