"""A site's own survey, as its settings ask for it."""

from __future__ import annotations

from dripfield.core.crs import check_crs_unit
from dripfield.site.model import Site
from dripfield.site.reader import inside
from dripfield.survey.doubt.on_site import check_features, check_on_survey
from dripfield.survey.read.survey_file import read_survey
from dripfield.survey.shots import Survey


def read_site_survey(site: Site) -> Survey:
    """Read the survey that a site names and check that the two belong together.

    Parameters
    ----------
    site : Site

    Returns
    -------
    Survey
        In the site's unit and coordinates, exclusions not yet applied.

    Raises
    ------
    InputError
        As :func:`dripfield.survey.read.survey_file.read_survey`; the bed lies off the survey.
    """
    file = site.file
    control = file.survey.control
    survey = read_survey(
        inside(site.folder, file.survey.points, "[survey] points"),
        file.survey,
        site.unit,
        crs=file.site.crs,
        around=site.bed.boundary,
        control=None if control is None else inside(site.folder, control, "[survey] control"),
        marks={file.benchmark.name: file.benchmark.elevation} if file.benchmark else {},
    )
    if file.site.crs is not None:
        check_crs_unit(file.site.crs, site.unit, survey.xyz[:, :2])
    check_on_survey(site, survey)
    check_features(site)
    return survey
