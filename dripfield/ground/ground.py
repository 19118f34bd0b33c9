"""The ground of a site: its shots, the triangles over them, and what is to be doubted of both."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from shapely import Point

from dripfield.core.arrays import Floats
from dripfield.ground.build import survey_surface
from dripfield.ground.coverage import Coverage, coverage
from dripfield.ground.reach import surface_within_reach, within_reach
from dripfield.ground.steps import Step, step_note, steps_in
from dripfield.ground.triangles.tin import Surface
from dripfield.site.model import Site
from dripfield.survey.doubt.blunders import Suspect, suspects
from dripfield.survey.doubt.clean import clean
from dripfield.survey.doubt.exclude import without_excluded
from dripfield.survey.doubt.on_site import notes_on
from dripfield.survey.read.site_survey import read_site_survey
from dripfield.survey.shots import Survey

_BESIDE_STEP = 2.0  # spacings of the survey: how far a step bends the fit of a shot's neighbours


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
    def near(self) -> Surface:
        """The part of the surface that bears on the bed: all of it, but of a very big survey."""
        return surface_within_reach(self.surface, self.site.bed.boundary, self.site.unit)

    @cached_property
    def coverage(self) -> Coverage:
        """What of the bed the survey does not cover."""
        multiple = self.site.settings.coverage_multiple
        return coverage(self.near, self.site.bed.boundary, multiple)

    @cached_property
    def suspects(self) -> tuple[Suspect, ...]:
        """Shots that are doubted; their numbers count the shots used.

        In a very big survey only those within reach of the bed are held against their neighbours.
        A shot beside a step of the ground stands off its neighbours because of the step.
        """
        site = self.site
        near = within_reach(self.shots.xyz[:, :2], site.bed.boundary, site.unit)
        found = suspects(self.shots, site.unit, near)
        for step in self.steps:
            area = step.area.buffer(_BESIDE_STEP * self.coverage.spacing)
            found = [
                one
                for one in found
                if not (abs(one.residual) <= step.drop and area.intersects(Point(one.place)))
            ]
        return tuple(found)

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """Walls and banks that cross the bed."""
        tolerance = self.site.settings.level_tolerance
        bed = self.site.bed.open_area(0.0)
        if bed.is_empty:
            return ()
        return steps_in(self.near, bed, self.coverage.spacing, tolerance)

    def under(self, site: Site) -> Ground:
        """The same ground under a site of the same survey with other settings."""
        return self if site is self.site else replace(self, site=site)

    @property
    def notes(self) -> tuple[str, ...]:
        """What a person should know of how the survey was read and placed."""
        steps = (step_note(step, self.site.unit.short) for step in self.steps)
        given = _given_edges(self.shots)
        return (*notes_on(self.site, self.read), *self.read.notes, *given, *self.site.notes, *steps)


def _given_edges(shots: Survey) -> tuple[str, ...]:
    """How many of the surveyor's own lines or triangles the surface has."""
    if shots.faces is not None:
        return (f"the surface is the surveyor's own, {len(shots.faces):,} triangles",)
    if shots.breaklines:
        count = len(shots.breaklines)
        many = count > 1
        return (
            f"{count} breakline{'s' if many else ''} {'are' if many else 'is'} kept as edges of "
            "the surface",
        )
    return ()


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
