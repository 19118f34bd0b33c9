"""Shots that the site file leaves out, by number and with a reason."""

from __future__ import annotations

import difflib
from collections.abc import Sequence

import numpy as np

from dripfield.core.errors import input_error
from dripfield.site.schema.survey import Exclusion
from dripfield.survey.shots import Survey


def without_excluded(survey: Survey, exclusions: Sequence[Exclusion]) -> Survey:
    """The survey less the excluded shots; each goes with a note that gives its reason.

    Raises
    ------
    InputError
        An exclusion names no shot of the survey, or a shot that the surveyor's faces stand on.
    """
    if not exclusions:
        return survey
    names = np.array(survey.names, dtype=object)
    keep = np.ones(len(names), dtype=bool)
    notes = []
    for exclusion in exclusions:
        point = exclusion.point
        found = names == point
        if not found.any():
            close = difflib.get_close_matches(point, survey.names, n=1, cutoff=0.0)
            hint = f" (the closest name is {close[0]!r})" if close else ""
            raise input_error(
                f"no shot is called {point!r}{hint}",
                "name a point of the survey, or take the exclusion out",
                file="site.toml",
                field="survey.exclude",
            )
        keep &= ~found
        rows = ", ".join(str(row) for row in survey.rows[found])
        notes.append(f"point {point} (row {rows}) excluded: {exclusion.reason}")
    if survey.faces is not None and not keep[survey.faces].all():
        lost = survey.names[int(survey.faces[~keep[survey.faces]][0])]
        raise input_error(
            f"point {lost!r} is a corner of the survey's own triangles",
            "exclude it in the survey program and export again, or leave the triangles out",
            file="site.toml",
            field="survey.exclude",
        )
    return survey.only(keep, *notes)
