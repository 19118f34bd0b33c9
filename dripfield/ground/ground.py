"""The ground of a site: its shots, the triangles over them, and what is to be doubted of both."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from dripfield.core.arrays import Floats
from dripfield.ground.build import survey_surface
from dripfield.ground.coverage import Coverage, coverage
from dripfield.ground.triangles.tin import Surface
from dripfield.site.model import Site
from dripfield.survey.doubt.blunders import Suspect, suspects
from dripfield.survey.doubt.clean import clean
from dripfield.survey.doubt.exclude import without_excluded
from dripfield.survey.doubt.on_site import notes_on
from dripfield.survey.read.site_survey import read_site_survey
from dripfield.survey.shots import Survey


@dataclass(frozen=True)
class Ground:
    """The existing ground as surveyed.

    What can be asked of it is worked out once, when it is first asked, and kept.

    Attributes
    ----------
    site : Site
    read : Survey
        The shots as read, exclusions not applied.
    shots : Survey
        The shots used: exclusions applied, duplicates averaged.
    surface : Surface
        The triangles over the shots used.
    """

    site: Site
    read: Survey
    shots: Survey
    surface: Surface

    def elevation(self, xy: Floats) -> Floats:
        """Elevation (k,) at plan points (k, 2) [site unit]; NaN off the survey."""
        return self.surface.elevation(xy)

    def gradient(self, xy: Floats) -> Floats:
        """Rise per unit of easting and of northing, (k, 2), at plan points (k, 2)."""
        return self.surface.gradient(xy)

    @cached_property
    def coverage(self) -> Coverage:
        """What of the bed the survey does not cover."""
        multiple = self.site.settings.coverage_multiple
        return coverage(self.surface, self.site.bed.boundary, multiple)

    @cached_property
    def suspects(self) -> tuple[Suspect, ...]:
        """Shots that are doubted; their numbers count the shots used."""
        return tuple(suspects(self.shots, self.site.unit))

    def under(self, site: Site) -> Ground:
        """The same ground under a site of the same survey with other settings."""
        return self if site is self.site else replace(self, site=site)

    @property
    def notes(self) -> tuple[str, ...]:
        """What a person should know of how the survey was read and placed."""
        return (*notes_on(self.site, self.read), *self.read.notes, *self.site.notes)


def build_ground(site: Site) -> Ground:
    """Read a site's survey and triangulate it.

    Parameters
    ----------
    site : Site
        From :func:`dripfield.site.reader.read_site`; its exclusions are applied here.

    Returns
    -------
    Ground
        In the site's coordinates and unit. The vertices of its surface are the shots used, then the
        breaklines' own points and crossings.

    Raises
    ------
    InputError
        The survey cannot be read or does not belong to the site; an exclusion names no shot, shots
        of one place disagree; or as :func:`dripfield.ground.build.survey_surface`.

    Examples
    --------
    >>> from dripfield.site.reader import read_site
    >>> ground = build_ground(read_site("sample_sites/meadow"))
    >>> ground.coverage.complete, len(ground.suspects)
    (True, 0)
    """
    return ground_of(site, read_site_survey(site))


def ground_of(site: Site, survey: Survey) -> Ground:
    """The ground of a site from a survey already read.

    The corners of a surveyor's own triangles stay as they are: the top and the toe of a wall may
    lie closer than shots do.

    Raises
    ------
    InputError
        As :func:`build_ground`, but for the reading.
    """
    used = without_excluded(survey, site.file.survey.exclude)
    if used.faces is None:
        used = clean(used, site.unit)
    return Ground(site, survey, used, survey_surface(used, site.unit))
