"""The distances that must be kept, and how they are kept, for every review sheet."""

from __future__ import annotations

from collections.abc import Sequence

from dripfield.core.table import Table, figures, text
from dripfield.core.units import Unit
from dripfield.review.model.limits import LineVerdict
from dripfield.review.model.result import SetbackLine


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
    columns = (
        *(text("from"), text("kind"), figures("required", places)),
        *(figures(f"distance\n{judged}", places), text("nearest\nrun")),
        *(figures("distance\nlaid out", places), text("verdict"), text("source", wide=True)),
    )
    rows = [
        (
            *(one.feature, one.kind, one.required, one.plan_distance, one.nearest, one.distance),
            *(one.verdict.value, one.source or "not entered"),
        )
        for one in setbacks
    ]
    wrong = (i for i, one in enumerate(setbacks) if one.verdict is not LineVerdict.CONFORMS)
    return Table(columns, rows, f"Distances to keep ({unit.short})", marked=frozenset(wrong))
