"""How good a layout is as laid by a crew, beside the layout as designed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.cores import side_by_side
from dripfield.crew.errors import CrewErrors
from dripfield.crew.setting import set_marks
from dripfield.design.model import Design
from dripfield.measures.field import measured_laterals
from dripfield.measures.laterals import LateralMeasure
from dripfield.staking.model import FieldPlan

if TYPE_CHECKING:
    pass

CREWS = 20
"""Most crews that are simulated."""

LEAST_CREWS = 8
"""No fewer are simulated, if so many were asked for."""

SURE = 0.0025
"""Standard error of the share of merit kept at which no more crews are asked: half of what two
decimals show."""

SEED = 20
_BENT = 0.3  # spacings between the points of a bent tube
_SAMPLE = 0.5  # spacings between the places measured


@dataclass(frozen=True)
class LateralAsLaid:
    """One lateral as designed and as laid.

    Attributes
    ----------
    name : str
    share_designed : float
        Share of it within both tolerances as designed.
    share_laid : float
        The same as laid, expected.
    """

    name: str
    share_designed: float
    share_laid: float


@dataclass(frozen=True)
class AsLaid:
    """What simulated crews make of a layout.

    Attributes
    ----------
    crews, seed : int
    errors : CrewErrors
    merit_designed : float
        Of the layout as designed.
    merits : (c,) float array
        Of what each crew laid.
    share_designed, share_laid : float
        Share of the tubing within both tolerances, as designed and as laid (expected).
    again : float
        Marks that the rod calls for measuring again, on average.
    laterals : tuple of LateralAsLaid
        In the layout's order.
    """

    crews: int
    seed: int
    errors: CrewErrors
    merit_designed: float
    merits: Floats
    share_designed: float
    share_laid: float
    again: float
    laterals: tuple[LateralAsLaid, ...]

    @property
    def merit(self) -> float:
        """Expected merit as laid."""
        return float(self.merits.mean())

    @property
    def kept(self) -> float:
        """Expected merit as laid over designed merit; 1 where nothing was designed to hold."""
        return self.merit / self.merit_designed if self.merit_designed > 0.0 else 1.0

    @property
    def least_kept(self) -> float:
        """The same of the crew that kept least."""
        if self.merit_designed <= 0.0:
            return 1.0
        return float(self.merits.min()) / self.merit_designed


@dataclass(frozen=True)
class Designed:
    """A layout measured as designed, at the places that it is measured at as laid.

    Attributes
    ----------
    laterals : tuple of LateralMeasure
    merit : float
    """

    laterals: tuple[LateralMeasure, ...]
    merit: float


def measure_designed(design: Design) -> Designed:
    """Measure a layout as designed, once for all ways of working.

    Parameters
    ----------
    design : Design

    Returns
    -------
    Designed
    """
    settings = design.site.settings
    measured = measured_laterals(
        design.layout.laterals, design.surface, settings, _SAMPLE * settings.spacing
    )
    return Designed(measured, design.measured.merit)


def simulate(
    plan: FieldPlan,
    design: Design,
    *,
    errors: CrewErrors | None = None,
    crews: int = CREWS,
    seed: int = SEED,
    designed: Designed | None = None,
) -> AsLaid:
    """Let crews lay a layout by a plan, and measure what they laid.

    Parameters
    ----------
    plan : FieldPlan
        Marks of every lateral of the layout.
    design : Design
    errors : CrewErrors, optional
        Those of the site's ``[crew]`` unless given.
    crews : int
        How many are simulated at most; after ``LEAST_CREWS`` no more than make the mean ``SURE``.
    seed : int
        The same seed gives the same figures.
    designed : Designed, optional
        :func:`measure_designed` of the layout, where that is at hand.

    Returns
    -------
    AsLaid
        Spacing and level are measured every half spacing, for the design too: marks stand farther
        apart, so that nothing that a crew does wrong is shorter.

    Raises
    ------
    InputError
        A mark measured from what is not set by then.
    """
    used = CrewErrors.of_site(design.site) if errors is None else errors
    settings = design.site.settings
    spacing = settings.spacing
    done = set_marks(plan, used, crews, seed, _BENT * spacing, design.surface)
    known = measure_designed(design) if designed is None else designed
    drawn, merit = known.laterals, known.merit
    held = np.array([one.length_both for one in drawn])
    total = max(float(held.sum()), 1e-12)

    def lengths(crew: int) -> Floats:
        """Of what one crew laid: lengths within both tolerances, and in all."""
        lines = [replace(one, xy=done.bent[one.name][crew]) for one in design.layout.laterals]
        measured = measured_laterals(lines, design.surface, settings, _SAMPLE * spacing)
        return np.array([(one.length_both, one.length) for one in measured]).T

    figures = side_by_side([partial(lengths, crew) for crew in range(min(crews, LEAST_CREWS))])
    shares = [float(one[0].sum()) / total for one in figures]
    while len(shares) < crews and np.std(shares, ddof=1) > SURE * np.sqrt(len(shares)):
        figures.append(lengths(len(shares)))
        shares.append(float(figures[-1][0].sum()) / total)
    laid_held, laid = np.stack(figures, axis=1)
    return AsLaid(
        crews=len(shares),
        seed=seed,
        errors=used,
        merit_designed=merit,
        merits=merit * np.array(shares),
        share_designed=_share(held, np.array([one.length for one in drawn])),
        share_laid=_share(laid_held, laid),
        again=float(done.again[: len(shares)].mean()),
        laterals=tuple(
            LateralAsLaid(
                one.name, _share(held[i], np.array(one.length)), _share(laid_held[:, i], laid[:, i])
            )
            for i, one in enumerate(drawn)
        ),
    )


def _share(held: Floats, length: Floats) -> float:
    total = float(np.sum(length))
    return float(np.sum(held)) / total if total > 0.0 else 0.0
