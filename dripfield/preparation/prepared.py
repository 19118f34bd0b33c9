"""A laid-out site ready for the day: take-off, heights, readiness and its ticks, day, submittal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import msgspec

from dripfield.design.model import Design
from dripfield.preparation.gather import Known, known_of
from dripfield.preparation.heights import Finding
from dripfield.preparation.prepare import Flows, Preparation, Tables, prepare
from dripfield.preparation.prices import Change, changes, read_takeoff
from dripfield.preparation.readiness_file import Readiness, merged, read_readiness
from dripfield.preparation.site_needs import Marks
from dripfield.preparation.stock import covers
from dripfield.preparation.submittal import Submittal, submittal_sets, submittals
from dripfield.preparation.submittal_facts import facts_shown
from dripfield.preparation.zones_given import flows_of, flush_words, zones_given
from dripfield.site.schema.preparation import DayTable, PrepareTable


@dataclass(frozen=True)
class Prepared:
    """A site ready for the day.

    Attributes
    ----------
    design : Design
    known : Known
    tables : Tables
    flows : Flows
        That the levels of the last tank are compared with.
    preparation : Preparation
    readiness : Readiness
        With what was ticked before.
    changes : tuple of Change or None
        Since an older take-off; None where there is none.
    submittals : tuple of Submittal
    """

    design: Design
    known: Known
    tables: Tables
    flows: Flows
    preparation: Preparation
    readiness: Readiness
    changes: tuple[Change, ...] | None
    submittals: tuple[Submittal, ...]

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Of tanks, enclosures and lines."""
        enclosures = tuple(
            Finding(
                "lid at finished grade",
                "pass" if one.within else "fail",
                one.text,
            )
            for one in self.preparation.enclosures
        )
        return (*self.preparation.findings, *enclosures, *self.known.findings)

    @property
    def notes(self) -> tuple[str, ...]:
        """What is left out, and every default that nobody entered; each once."""
        return tuple(
            dict.fromkeys((*self.known.notes, *self.preparation.notes, *self.readiness.notes))
        )


def prepared(
    design: Design,
    marks: Marks | None = None,
    *,
    older: str | Path | None = None,
    ticked: Sequence[str | Path] = (),
) -> Prepared:
    """Work out take-off, heights, readiness, day plan and submittal of a laid-out site.

    Parameters
    ----------
    design : Design
        From :func:`dripfield.design.lay_out.lay_out`.
    marks : Marks, optional
        Of the field method; flags and paint are left out without.
    older : str or Path, optional
        An older ``takeoff.csv``, to say what changed.
    ticked : sequence of str or Path
        Readiness lists as they were ticked, the earlier before the later.

    Returns
    -------
    Prepared

    Raises
    ------
    InputError
        Whatever in the site's tables or in these files cannot be; each says how to mend it.
    """
    file, unit = design.site.file, design.site.unit
    before = [read_readiness(Path(path)) for path in ticked]
    was = None if older is None else read_takeoff(Path(older))
    system, why = zones_given(design)
    plan = system.plan if system else None
    flows = flows_of(design, system)
    known = known_of(design, plan, marks, why_no_zones=why)
    table = _with_trucks(file.prepare or PrepareTable(), known)
    tables = Tables(table, tuple(file.tank), tuple(file.enclosure), file.day or DayTable())
    found = prepare(
        tables,
        unit,
        known.field,
        flows=flows,
        bed=known.built,
        zones=len(plan.zones) if plan else 0,
        rake_tolerance=known.rake_tolerance,
        frost_depth=known.frost_depth,
        digs=known.digs,
    )
    names = {*file.rules.check, *table.submittal}
    facts = facts_shown(design, known, flush_words(system))
    return Prepared(
        design,
        known,
        tables,
        flows,
        found,
        merged(found.readiness, *before),
        None if was is None else changes(found.takeoff.items, was, found.prices),
        submittals([one for one in submittal_sets() if one in names], facts),
    )


def _with_trucks(table: PrepareTable, known: Known) -> PrepareTable:
    """Truck loads of the bed's materials, where [[prepare.stock]] does not say otherwise."""
    own = [one.material.strip().lower() for one in table.stock]
    extra = [
        one for one in known.stock if not any(covers(name, one.material.lower()) for name in own)
    ]
    return msgspec.structs.replace(table, stock=[*extra, *table.stock]) if extra else table
