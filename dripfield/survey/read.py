"""One way in for every kind of survey file."""

from __future__ import annotations

from pathlib import Path

from dripfield.survey.delimited import read_delimited
from dripfield.survey.options import SurveyTable
from dripfield.survey.shots import Survey
from dripfield.units import Unit


def read_survey(path: Path, options: SurveyTable, unit: Unit) -> Survey:
    """Read a survey file, its kind known from its ending and content.

    Parameters
    ----------
    path : Path
        The file.
    options : SurveyTable
        ``[survey]`` of the site file.
    unit : Unit
        The site's unit.

    Returns
    -------
    Survey
        In the site's unit and coordinates.

    Raises
    ------
    InputError
        One line naming the file, the row where there is one, and the remedy.
    """
    return read_delimited(path, options, unit)
