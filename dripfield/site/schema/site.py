"""``[site]``, ``[rules]`` and the whole of ``site.toml``."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from dripfield.site.schema.bed import BedTable
from dripfield.site.schema.crew import Benchmark, CrewTable
from dripfield.site.schema.key import Positive, key
from dripfield.site.schema.layout import LayoutTable
from dripfield.site.schema.pump import PumpTable, ReturnTable, SupplyTable
from dripfield.site.schema.review import ReviewTable
from dripfield.site.schema.survey import SurveyTable
from dripfield.site.schema.zones import (
    DesignTable,
    EmitterTable,
    ManifoldTable,
    TubingTable,
    ZonesTable,
)


class SiteTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[site]``: what the site is called and the unit of everything in it."""

    name: Annotated[str, key("printed on every sheet", example="Starter hillside")]
    units: Annotated[
        Literal["ft", "ftUS", "m"],
        key('"ft" (international foot), "ftUS" (US survey foot) or "m"', example="ft"),
    ]
    crs: Annotated[
        str | None,
        key("projected coordinate reference system in the same unit", example="EPSG:6559"),
    ] = None
    vertical_datum: Annotated[
        str | None, key("what elevations are measured from", example="NAVD 88")
    ] = None
    survey_date: Annotated[str | None, key("of the survey", example="2026-05-14")] = None
    surveyor: Annotated[str | None, key("who surveyed", example="Name of the surveyor")] = None
    address: Annotated[str | None, key("of the site", example="12 Example Road")] = None
    owner: Annotated[str | None, key("of the site", example="Name of the owner")] = None
    designer: Annotated[str | None, key("who answers for it", example="Name of the designer")] = (
        None
    )
    permit_number: Annotated[str | None, key("as the permit has it", example="OS-2026-0417")] = None
    design_date: Annotated[str | None, key("of the design", example="2026-06-02")] = None
    revision: Annotated[str | None, key("of the design", example="B")] = None
    revision_date: Annotated[str | None, key("of the revision", example="2026-07-01")] = None
    notes: Annotated[
        str | None,
        key("for any reader of the sheets", example="The gate is on the north side."),
    ] = None


class RulesTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[rules]``: published rules; none is applied unless its set is named. Sets: "alabama",
    "astm-c33", "lake-county-il", "massachusetts-sand", "minnesota", "mississippi", "nevada",
    "texas-222", "virginia". The summary says what each is written for and when its text was read.
    """

    check: Annotated[list[str], key("names of the sets", example=["alabama"])] = []
    off: Annotated[
        list[str],
        key("single rules of those sets to leave out", example=["alabama-spacing"]),
    ] = []
    absorption_area: Annotated[
        Positive | None,
        key(
            "least area that the design calls for",
            unit="area",
            example=6000.0,
            absent="as [design] says",
        ),
    ] = None


class SiteFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """The whole of ``site.toml``."""

    site: SiteTable
    survey: SurveyTable
    bed: BedTable
    layout: LayoutTable
    rules: RulesTable = RulesTable()
    benchmark: Benchmark | None = None
    crew: CrewTable = CrewTable()
    review: ReviewTable = ReviewTable()
    design: DesignTable | None = None
    emitters: EmitterTable | None = None
    tubing: TubingTable | None = None
    zones: ZonesTable | None = None
    manifold: ManifoldTable | None = None
    supply: SupplyTable | None = None
    return_: ReturnTable | None = msgspec.field(default=None, name="return")
    pump: PumpTable | None = None

    @property
    def absorption_area(self) -> float | None:
        """The least area that the design calls for [site unit squared], or None.

        From ``[rules]``, from ``[design]``, or as ``[design]`` flow over loading rate.
        """
        if self.rules.absorption_area is not None:
            return self.rules.absorption_area
        if self.design is None:
            return None
        if self.design.absorption_area is not None:
            return self.design.absorption_area
        if self.design.daily_flow is None or self.design.loading_rate is None:
            return None
        return self.design.daily_flow / self.design.loading_rate
