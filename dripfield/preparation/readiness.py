"""What must be ready before the day: only what applies to this site, each with who, when and how.

Who does what is common practice, no source; who answers for it is for the contract to say.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, field

from dripfield.core.errors import input_error
from dripfield.core.units import Unit

EXIT_FEET = 4.0
PROTECTION_FEET = 5.0
_START = "before work starts"
_DEEP = (
    "sloped, shored or shielded, unless it is all in stable rock (29 CFR 1926.652(a)(1)); competent"
    " person inspects daily and after rain"
)
_SHALLOW = (
    "a competent person has looked and finds no sign of cave-in, else protected; under 5 ft"
    " (29 CFR 1926.652(a)(1))"
)


@dataclass(frozen=True)
class Ready:
    """One thing to have ready.

    Attributes
    ----------
    item, who, by, done_when : str
        ``by`` is a date, or days before the day where that has no date.
    figure : str
        The figure that it is done by, or empty.
    """

    item: str
    who: str
    by: str
    done_when: str
    figure: str = ""


@dataclass(frozen=True)
class Excavation:
    """A dig and how deep it goes [site unit]."""

    name: str
    depth: float


@dataclass(frozen=True)
class Circumstances:
    """What applies to the site; what is None is not known and asked for as an item of its own.

    Attributes
    ----------
    unit : Unit
    date : str or None
        Of the day, ``2026-06-12``.
    home : str or None
        ``new`` or ``existing``.
    bed : bool
        A sand bed is built, rather than lines laid in the ground.
    tanks : tuple of str
        Names of the tanks.
    risers : dict of str to str
        By tank, the riser to be added over it.
    tank_figures : dict of str to str
        By tank, the water to start with.
    excavations : tuple of Excavation
    zones, joined : int
        0 where not given.
    electrician : bool
        A control panel is wired.
    enclosures : dict of str to str
        By enclosure, the blocks that it stands on.
    water : str
        Water wanted on the day, or empty.
    rake_tolerance : float or None
        [site unit]
    frost_depth : float or None
        [site unit]
    overhead : bool or None
        Overhead lines near the machine's way.
    utility_lead_days, permit_lead_days, inspection_lead_days : int or None
    items_to_buy : int
        Rows of the take-off.
    """

    unit: Unit
    date: str | None = None
    home: str | None = None
    bed: bool = False
    tanks: tuple[str, ...] = ()
    risers: dict[str, str] = field(default_factory=dict)
    tank_figures: dict[str, str] = field(default_factory=dict)
    excavations: tuple[Excavation, ...] = ()
    zones: int = 0
    joined: int = 0
    electrician: bool = True
    enclosures: dict[str, str] = field(default_factory=dict)
    water: str = ""
    rake_tolerance: float | None = None
    frost_depth: float | None = None
    overhead: bool | None = None
    utility_lead_days: int | None = None
    permit_lead_days: int | None = None
    inspection_lead_days: int | None = None
    items_to_buy: int = 0


def readiness(site: Circumstances) -> tuple[Ready, ...]:
    """The list for this site, in the order in which things fall due where dates are known.

    Raises
    ------
    InputError
        A date that is none.
    """
    by = _By(site.date)
    rows = [
        *_papers(site, by),
        *_ground(site, by),
        *_tanks(site, by),
        *_excavations(site, by),
        *_things(site, by),
        *_people(site, by),
    ]
    return tuple(rows)


@dataclass(frozen=True)
class _By:
    """Days before the day as a date."""

    date: str | None

    def __post_init__(self) -> None:
        if self.date is not None:
            self._day()

    def _day(self) -> datetime.date:
        try:
            return datetime.date.fromisoformat(self.date or "")
        except ValueError:
            raise input_error(
                f"{self.date!r} is no date",
                "write it as 2026-06-12",
                file="site.toml",
                field="[day] date",
            ) from None

    def __call__(self, days: int) -> str:
        if self.date is None:
            return "the day" if days == 0 else f"{days} d before"
        try:
            return (self._day() - datetime.timedelta(days=days)).isoformat()
        except OverflowError:
            return f"{days} d before"


def _papers(site: Circumstances, by: _By) -> list[Ready]:
    permit, inspection = site.permit_lead_days, site.inspection_lead_days
    calls = site.utility_lead_days
    asked = "lead days not entered: ask the one-call centre ([prepare] utility_lead_days)"
    return [
        Ready(
            "permit in hand and on site",
            "contractor",
            _START if permit is None else by(permit),
            "the approved permit and plan are on site and agree with these sheets",
        ),
        Ready(
            "utilities: one-call made",
            "contractor",
            _START if calls is None else by(calls),
            "the centre has given a ticket number for the dig limits marked in white",
            asked if calls is None else f"{calls} d before the dig",
        ),
        Ready(
            "utilities: marks on the ground, or an all-clear from each",
            "contractor",
            by(0),
            "every utility named on the ticket has answered; marks still stand",
        ),
        Ready(
            "private lines located",
            "owner and contractor",
            by(1),
            "water, power, drain and septic lines past the meter are marked: the one-call centre"
            " does not mark them",
        ),
        Ready(
            "inspection booked",
            "contractor",
            _START if inspection is None else by(inspection),
            "the office has confirmed the inspector and the hour",
            "" if inspection is None else f"{inspection} d before",
        ),
    ]


def _ground(site: Circumstances, by: _By) -> list[Ready]:
    rows = []
    if site.bed:
        tolerance = ""
        if site.rake_tolerance is not None:
            places, short = site.unit.places, site.unit.short
            tolerance = f"± {site.rake_tolerance:.{places}f} {short}"
        rows += [
            Ready(
                "sand delivered and placed",
                "contractor",
                by(2),
                "sand is as specified, with its sieve test at hand, and not driven on",
            ),
            Ready(
                "bed raked and checked",
                "contractor and layout crew",
                by(1),
                "check-bed says pass",
                tolerance,
            ),
            Ready(
                "contours of the bed marked",
                "layout crew",
                by(1),
                "ends and marks of every lateral are flagged and agree with the sheets",
            ),
        ]
    else:
        rows.append(
            Ready(
                "area cleared and laterals marked on the ground",
                "contractor and layout crew",
                by(1),
                "brush is cut without stripping or driving; every lateral is flagged",
            )
        )
    rows.append(
        Ready(
            "soil dry enough to work: go or no-go",
            "contractor",
            by(0),
            "go: a handful from working depth crumbles and cannot be rolled into a thread; no-go:"
            " it smears, rolls into a thread or the wheel leaves a rut",
            "common practice, no source: hand test",
        )
    )
    if site.home == "existing":
        rows.append(
            Ready(
                "old system found and its use on the day agreed",
                "owner and contractor",
                by(3),
                "tank, field and building sewer are located; the household knows when not to use"
                " water",
            )
        )
    if site.home == "new":
        rows.append(
            Ready(
                "building sewer and power at their places",
                "contractor",
                by(2),
                "the building sewer ends at the tank; a feed to the control panel is agreed",
            )
        )
    if site.home is None:
        rows.append(
            Ready(
                "new or existing home",
                "contractor",
                by(7),
                'enter home = "new" or "existing" under [prepare]: items that hang on it are left'
                " out",
            )
        )
    return rows


def _tanks(site: Circumstances, by: _By) -> list[Ready]:
    rows = []
    for name in site.tanks:
        rows.append(
            Ready(
                f"{name} set and tested",
                "contractor",
                by(2),
                "set level on its bedding, watertight by the test that the permit asks for,"
                " nobody enters it",
                site.tank_figures.get(name, ""),
            )
        )
    rows += [
        Ready(f"riser on: {name}", "contractor", by(1), "fastened, sealed, its lid locked", figure)
        for name, figure in site.risers.items()
    ]
    rows += [
        Ready(
            f"blocks set: {name}",
            "contractor",
            by(1),
            "stacks level on undisturbed soil or stone",
            figure,
        )
        for name, figure in site.enclosures.items()
    ]
    return rows


def _excavations(site: Circumstances, by: _By) -> list[Ready]:
    """Exit and protection, each where its depth is reached; what is shallower in one row."""
    rows = []
    places, short = site.unit.places, site.unit.short
    for dig in site.excavations:
        feet = site.unit.to_feet(dig.depth)
        if feet < EXIT_FEET - 1e-6:
            continue
        figure = f"{dig.depth:.{places}f} {short} deep"
        rows.append(
            Ready(
                f"way out of the excavation: {dig.name}",
                "contractor",
                by(0),
                "ladder or ramp within 25 ft of travel in a trench from 4 ft deep"
                " (29 CFR 1926.651(c)(2))",
                figure,
            )
        )
        rows.append(
            Ready(
                f"protection from cave-in: {dig.name}",
                "contractor's competent person",
                by(0),
                _DEEP if feet >= PROTECTION_FEET - 1e-6 else _SHALLOW,
                figure,
            )
        )
    shallow = [one for one in site.excavations if site.unit.to_feet(one.depth) < EXIT_FEET - 1e-6]
    if shallow:
        deepest = max(one.depth for one in shallow)
        rows.append(
            Ready(
                "protection from cave-in: shallow digs",
                "contractor's competent person",
                by(0),
                f"{', '.join(one.name for one in shallow)}: {_SHALLOW}",
                f"up to {deepest:.{places}f} {short} deep",
            )
        )
    return rows


def _things(site: Circumstances, by: _By) -> list[Ready]:
    rows = []
    if site.items_to_buy:
        rows.append(
            Ready(
                "everything on the take-off on site",
                "contractor",
                by(1),
                "counted against takeoff.csv, nothing short",
                f"{site.items_to_buy} rows",
            )
        )
    if site.frost_depth:
        rows.append(
            Ready(
                "insulation measured on the pipe",
                "contractor",
                by(1),
                "a piece goes on each size: outside diameter first, then the label",
                f"frost depth {site.frost_depth:g} {site.unit.short}",
            )
        )
    rows += [
        Ready(
            "machine and operator on site",
            "contractor",
            by(0),
            "fuelled; its way in keeps off the bed and every laid line",
            "keep clear of overhead lines" if site.overhead else "",
        ),
        Ready(
            "water on site",
            "contractor",
            by(0),
            "a hose reaches tank and field, or a water truck is there",
            site.water,
        ),
    ]
    if site.overhead is None:
        rows.append(
            Ready(
                "overhead lines looked for",
                "contractor",
                by(1),
                "the machine's way, dumping and lifting places are clear of them, or the line's"
                " owner has been called",
            )
        )
    return rows


def _people(site: Circumstances, by: _By) -> list[Ready]:
    rows = []
    if site.electrician:
        rows += [
            Ready(
                "electrician booked for the start of the day",
                "contractor",
                by(3),
                "name, hour and telephone are known; licensed where the law asks for it",
            ),
            Ready(
                "control panel, feed and junction boxes on site",
                "electrician",
                by(0),
                "feed with its breaker locked out, conduit to tank and control panel, junction"
                " boxes where no gas from the tank reaches them",
            ),
        ]
    rows.append(
        Ready(
            "inspector's time",
            "contractor",
            by(0),
            "the hour is in the day plan; nothing is covered before",
        )
    )
    return rows


def excavations_of(depths: Sequence[tuple[str, float | None]]) -> tuple[Excavation, ...]:
    """Digs whose depth is known, as entered or worked out [site unit]."""
    return tuple(Excavation(name, depth) for name, depth in depths if depth is not None)
