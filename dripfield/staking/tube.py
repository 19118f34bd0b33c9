"""A thin tube bent through marks: the natural cubic spline over the length of the chords.

A thin elastic tube that is held at points and free at its ends bends to the least sum of squared
curvature; for small bends that curve is the natural cubic spline (C. de Boor, *A Practical Guide
to Splines*, 1978, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats, Ints

_STEPS = 32  # of every chord: steps that the length along the tube is added up in
_COARSE = 4  # steps between the places that the nearest point is first sought among
_NEWTON = 8
_NEAR = 1e-13  # of the length: a foot that moves by less is found


@dataclass(frozen=True)
class Feet:
    """Where squares from places (k,) meet a tube.

    Attributes
    ----------
    station : (k,) float array
        Along the tube from its first mark [site unit].
    offset : (k,) float array
        Distance square to the tube, positive to the left of its direction [site unit].
    tangent : (k, 2) float array
        Unit direction of the tube there.
    beyond : (k,) float array
        How far along the tube's direction the place lies past its first or last mark; all but 0
        where a square meets the tube between them [site unit].
    """

    station: Floats
    offset: Floats
    tangent: Floats
    beyond: Floats


class Tube:
    """The natural cubic spline through marks, with distances along it.

    Parameters
    ----------
    marks : (n, 2) float array
        At least two, no two neighbours at one place [site unit].
    steps : int
        Of every chord that the length along the tube is added up in.

    Attributes
    ----------
    marks : (n, 2) float array
    length : float
        Along the curve [site unit].
    mark_stations : (n,) float array
        Of the marks, along the curve.
    """

    def __init__(self, marks: Floats, steps: int = _STEPS) -> None:
        self.marks = np.asarray(marks, dtype=np.float64)
        self._origin = np.round(self.marks[0])
        near = self.marks - self._origin
        self._chord = np.hypot(*np.diff(near, axis=0).T)
        self._knots = np.concatenate(([0.0], np.cumsum(self._chord)))
        self._cubics = _cubics(near, self._chord)
        share = np.arange(steps) / steps
        parameter = (self._knots[:-1, None] + self._chord[:, None] * share).ravel()
        self._fine = np.append(parameter, self._knots[-1])
        # Gauss and Legendre with two points: the length of each step, to its fourth power
        middle, half = 0.5 * (self._fine[1:] + self._fine[:-1]), 0.5 * np.diff(self._fine)
        speed = [
            np.hypot(*self._derivative(middle + way * half / np.sqrt(3.0)).T) for way in (-1.0, 1.0)
        ]
        self._along = np.concatenate(([0.0], np.cumsum(half * (speed[0] + speed[1]))))
        self.length = float(self._along[-1])
        self.mark_stations = self._along[::steps]

    def at(self, station: Floats) -> Floats:
        """Places (k, 2) at distances (k,) along the tube [site unit]."""
        return np.asarray(self._place(self._parameter(station)) + self._origin)

    def tangent(self, station: Floats) -> Floats:
        """Unit directions (k, 2) at distances (k,) along the tube."""
        return _unit(self._derivative(self._parameter(station)))

    def beside(self, station: Floats, offset: Floats) -> Floats:
        """Places (k, 2) square off the tube, ``offset`` (k,) to its left [site unit]."""
        along = self.tangent(station)
        return self.at(station) + np.asarray(offset)[:, None] * np.column_stack(
            (-along[:, 1], along[:, 0])
        )

    def feet(self, places: Floats) -> Feet:
        """The nearest point of the tube to each place (k, 2), as a square off it."""
        near = np.asarray(places, dtype=np.float64) - self._origin
        coarse = self._fine[::_COARSE]
        coarse_xy = self._place(coarse)
        gap = (
            (near**2).sum(axis=1)[:, None]
            - 2.0 * near @ coarse_xy.T
            + (coarse_xy**2).sum(axis=1)[None, :]
        )
        first = np.argmin(gap, axis=1)
        t = coarse[first]
        for _ in range(_NEWTON):
            place, speed, bend = self._to(*self._interval(t))
            away, square = place - near, _dot(speed, speed)
            step = _dot(away, speed) / np.maximum(square + _dot(away, bend), 0.2 * square)
            moved = np.minimum(np.maximum(t - step, 0.0), self._knots[-1])
            done = np.abs(moved - t).max(initial=0.0) < _NEAR * self._knots[-1]
            t = moved
            if done:
                break
        place, speed, _ = self._to(*self._interval(t))
        away, along = near - place, _unit(speed)
        return Feet(
            station=np.interp(t, self._fine, self._along),
            offset=along[:, 0] * away[:, 1] - along[:, 1] * away[:, 0],
            tangent=along,
            beyond=np.abs(_dot(away, along)),
        )

    def line(self, step: float) -> Floats:
        """Places (k, 2) along the tube, at most ``step`` apart, marks among them [site unit]."""
        pieces = np.maximum(1, np.ceil(self._chord / step)).astype(np.int64)
        return np.asarray(self._place(_divided(self._knots, pieces)) + self._origin)

    def _parameter(self, station: Floats) -> Floats:
        return np.asarray(np.interp(station, self._along, self._fine))

    def _interval(self, t: Floats) -> tuple[Ints, Floats]:
        """The chord that each place is over, and how far along it, (k,) and (k, 1)."""
        i = self._knots.searchsorted(t, side="right") - 1
        np.minimum(np.maximum(i, 0, out=i), len(self._chord) - 1, out=i)
        return i, (t - self._knots[i])[:, None]

    def _place(self, t: Floats) -> Floats:
        return self._to(*self._interval(t))[0]

    def _derivative(self, t: Floats) -> Floats:
        i, s = self._interval(t)
        _, c1, c2, c3 = self._cubics
        return np.asarray(c1[i] + s * (2.0 * c2[i] + s * (3.0 * c3[i])))

    def _to(self, i: Ints, s: Floats) -> tuple[Floats, Floats, Floats]:
        """Place, first and second derivative at distances along chords."""
        c0, c1, c2, c3 = (c[i] for c in self._cubics)
        bend = s * (3.0 * c3)
        return (
            c0 + s * (c1 + s * (c2 + s * c3)),
            c1 + s * (2.0 * c2 + bend),
            2.0 * (c2 + bend),
        )


def _divided(knots: Floats, pieces: Ints) -> Floats:
    """Every interval of ``knots`` in equal pieces, both ends included."""
    owner = np.repeat(np.arange(len(pieces)), pieces)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    t = knots[owner] + np.diff(knots)[owner] * step / pieces[owner]
    return np.append(t, knots[-1])


def second_derivatives(marks: Floats, chord: Floats) -> Floats:
    """Second derivatives (n, 2) of the tube at marks (n, 2) with chords (n - 1,) between them."""
    from scipy.linalg import solve_banded

    bend = np.zeros_like(marks)
    if len(marks) < 3:
        return bend
    band = np.zeros((3, len(marks) - 2))
    band[0, 1:] = band[2, :-1] = chord[1:-1]
    band[1] = 2.0 * (chord[:-1] + chord[1:])
    slope = np.diff(marks, axis=0) / chord[:, None]
    bend[1:-1] = solve_banded((1, 1), band, 6.0 * np.diff(slope, axis=0), check_finite=False)
    return bend


def _cubics(marks: Floats, chord: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Coefficients of the cubic over each chord by the distance along it, four of (n - 1, 2)."""
    bend, h = second_derivatives(marks, chord), chord[:, None]
    low, high = bend[:-1], bend[1:]
    slope = np.diff(marks, axis=0) / h - h / 6.0 * (2.0 * low + high)
    return marks[:-1], slope, 0.5 * low, (high - low) / (6.0 * h)


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray(a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1])


def _unit(vectors: Floats) -> Floats:
    size = np.hypot(*vectors.T)[:, None]
    return np.asarray(vectors / np.where(size > 0.0, size, 1.0))
