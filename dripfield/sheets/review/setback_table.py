"""The distances that must be kept, and how they are kept, for every review sheet."""

from __future__ import annotations

from collections.abc import Sequence

from dripfield.core.units import Unit
from dripfield.review.model.limits import LineVerdict
from dripfield.review.model.result import SetbackLine
from dripfield.sheets.review.content import Table, columns
from dripfield.sheets.review.tables import figure


def setback_table(setbacks: Sequence[SetbackLine], unit: Unit, judged: str) -> Table:
    """Every required distance with that of the layout and that of what is judged.

    Parameters
    ----------
    setbacks : sequence of SetbackLine
    unit : Unit
    judged : str
        What is judged, as ``on plan``.

    Returns
    -------
    Table
    """
    places = unit.places
    return Table(
        f"Distances to keep ({unit.short})",
        columns(
            "from",
            "kind",
            "required",
            f"distance\n{judged}",
            "nearest\nrun",
            "distance\nlaid out",
            "verdict",
            "source",
            numbers=(2, 3, 5),
            wide=7,
        ),
        tuple(
            (
                one.feature,
                one.kind,
                figure(one.required, places),
                figure(one.plan_distance, places),
                one.nearest,
                figure(one.distance, places),
                one.verdict.value,
                one.source or "not entered",
            )
            for one in setbacks
        ),
        frozenset(i for i, one in enumerate(setbacks) if one.verdict is not LineVerdict.CONFORMS),
    )
