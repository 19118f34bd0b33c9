"""The tables of the printed set: checks, water, days, air release, commissioning, faults."""

from __future__ import annotations

from dripfield.core.cautions import caution
from dripfield.core.table import Table
from dripfield.distribution.system import FieldSystem
from dripfield.hydraulics.commissioning import BAND
from dripfield.sheets.kit.page import Page
from dripfield.sheets.kit.style import Paper
from dripfield.sheets.kit.table_pages import table_pages
from dripfield.sheets.zones.columns import picked

_OWN_SHEET = "Figures of tubing, emitters, filter and pump are the user's own."


def check_pages(made: dict[str, Table], paper: Paper) -> list[Page]:
    """The table of design checks, what fails marked."""
    found = made["checks.csv"]
    verdict = found.keys.index("verdict")
    order = {"fail": 0, "not proven": 1, "pass": 2}
    rows = sorted(range(len(found.rows)), key=lambda k: (order[str(found.rows[k][verdict])], k))
    table = picked(
        found,
        "Design checks",
        {
            "verdict": "verdict", "requirement": "requirement", "value": "value", "limit": "limit",
            "unit": "unit", "source": "source", "where": "where, or what is missing",
        },
        notes=(
            "Failed checks first, then what is not proven, which is never a yes. Published rules "
            "are "
            "held only where the site names their set; the code itself and its office decide. "
            + _OWN_SHEET,
        ),
        wide="where",
        rows=rows,
    )  # fmt: skip
    marked = frozenset(k for k, row in enumerate(rows) if found.rows[row][verdict] == "fail")
    table = Table(table.columns, table.rows, table.title, table.notes, marked)
    return table_pages(table, paper, 8.0, 8)


def water_pages(system: FieldSystem, made: dict[str, Table], paper: Paper) -> list[Page]:
    """Joined laterals of each zone in both states, and pipes.

    Parameters
    ----------
    system : FieldSystem
    made : dict of str to Table
        Tables by file name.
    paper : Paper

    Returns
    -------
    list of Page
    """
    pages: list[Page] = []
    found = made["hydraulics.csv"]
    for zone in system.plan.zones:
        rows = [k for k, row in enumerate(found.rows) if row[0] == zone.name]
        if not rows:
            continue
        table = picked(
            found,
            f"Joined laterals of {zone.name} while dosing and flushing",
            {
                "state": "state", "joined": "joined", "flow_in": "flow in", "flow_out": "flow out",
                "pressure_in": "pressure\nin", "pressure_out": "pressure\nout",
                "pressure_least": "least at\nemitters", "pressure_most": "most at\nemitters",
                "velocity_out": "velocity\nout", "emitter_least": "emitter\nleast",
                "emitter_most": "emitter\nmost",
            },
            notes=(
                "While dosing the return's outlet is shut and its manifold stays connected: flow "
                "out "
                "has either sign and adds up to nothing over a zone. Dosing runs below the "
                "velocity "
                "that scours, as a rule; flushing is what scours.",
            ),
            group="state",
            rows=rows,
        )  # fmt: skip
        pages += table_pages(table, paper)
    if made["pipes.csv"].rows:
        table = picked(
            made["pipes.csv"],
            "Pipes while dosing and flushing",
            {
                "zone": "zone", "state": "state", "pipe": "pipe", "role": "part of", "size": "size",
                "bore": "bore", "flow": "flow", "velocity": "velocity", "head_lost": "head lost",
            },
            group="state",
        )  # fmt: skip
        pages += table_pages(table, paper, 8.0)
    return pages


def day_pages(made: dict[str, Table], paper: Paper) -> list[Page]:
    """Doses and times, what drains after a dose, and what would make it more even."""
    pages: list[Page] = []
    if made["doses.csv"].rows:
        pages += table_pages(
            picked(
                made["doses.csv"],
                "Doses, run and rest",
                {
                    "zone": "zone",
                    "share": "share of\nthe day",
                    "daily": "a day",
                    "doses": "doses\na day",
                    "dose": "a dose",
                    "pumped": "pumped",
                    "drain_back": "drains\nback",
                    "draw_down": "draws tank\ndown",
                    "multiple": "times its\ntubing",
                    "fill": "fill",
                    "run": "run",
                    "rest": "rest",
                    "pressurised": "share under\npressure",
                    "flush_time": "flush\ntwo changes",
                    "flush_returned": "returns",
                },
                notes=(
                    "Each zone has a share of the day as its area, so that every square foot "
                    "gets the "
                    "same. As many doses as leave each five times the content of the tubing "
                    "(common "
                    "practice, no source), unless [design] doses says otherwise. Flush: two "
                    "changes of "
                    "water along the slowest way (common practice, no source); check that the tank "
                    "holds what returns.",
                ),
            ),
            paper,
        )
    if made["tank_levels.csv"].rows:
        name = str(made["tank_levels.csv"].rows[0][0])
        pages += table_pages(
            picked(
                made["tank_levels.csv"],
                f"Switch levels of the {name}",
                {
                    "level": "level",
                    "entered": "over the floor,\nas entered",
                    "least": "at least",
                    "volume": "water below",
                    "enough": "high enough",
                    "why": "why",
                },
                notes=(
                    "Over the inside of the floor. A switch that is not entered is reckoned to "
                    "stand as low as it may.",
                    caution("tanks"),
                    caution("electricity"),
                ),
            ),
            paper,
        )
    if made["remedies.csv"].rows:
        pages += table_pages(
            picked(
                made["remedies.csv"],
                "After the dose: where the full tubing drains",
                {
                    "zone": "zone",
                    "what": "with",
                    "lowest_over_mean": "lowest tenth\nover mean",
                    "greatest_over_mean": "greatest\nover mean",
                    "lowest_by_head": "lowest tenth,\nby head",
                    "greatest_by_head": "greatest,\nby head",
                    "caution": "mind",
                },
                notes=(
                    "Dose and drained water of the lowest tenth of the emitters over the mean of "
                    "all, measured anew for each change. Water that stands in full pipe leaves "
                    "through all emitters below its level: evenly, or by head, as openings that no "
                    "longer hold their rate. Emitters far below their range do something between.",
                ),
                wide="caution",
                group="zone",
            ),
            paper,
            9.0,
            3,
        )
        pages += table_pages(
            picked(
                made["drainage.csv"],
                "After the dose: joined laterals",
                {"zone": "zone", "joined": "joined", "received_over_mean": "received\nover mean"},
                group="zone",
            ),
            paper,
        )
    return pages


def air_pages(made: dict[str, Table], paper: Paper) -> list[Page]:
    """Air and vacuum releases, and what each protects."""
    if not made["air.csv"].rows:
        return []
    table = picked(
        made["air.csv"],
        "Air and vacuum release",
        {
            "number": "number", "zone": "zone", "line": "on", "northing": "northing",
            "easting": "easting", "elevation": "elevation", "protects": "what it protects",
        },
        notes=("Each stands in a covered box with access at grade. Size and kind: as its own "
        "sheet.",),
        wide="protects",
    )  # fmt: skip
    return table_pages(table, paper, 9.0, 4)


def commissioning_pages(system: FieldSystem, made: dict[str, Table], paper: Paper) -> list[Page]:
    """What is read when a zone is started, a page for each zone; and the fault finder.

    Parameters
    ----------
    system : FieldSystem
    made : dict of str to Table
        Tables by file name.
    paper : Paper

    Returns
    -------
    list of Page
    """
    pages: list[Page] = []
    found = made["commissioning.csv"]
    for zone in system.plan.zones:
        rows = [k for k, row in enumerate(found.rows) if row[0] == zone.name]
        if not rows:
            continue
        table = picked(
            found,
            f"Commissioning sheet, {zone.name}",
            {
                "state": "state", "what": "what", "where": "where", "expected": "expected",
                "least": "from", "most": "to", "unit": "unit", "read": "read on the day",
            },
            notes=(
                f"Bands are {BAND:.0%} either way (common practice, no source). Dose: return shut. "
                "Flush: return open, throttled until the slowest far end has the flush velocity. "
                "Read by: ____________________   Date: ______________   Meter: ______________",
            ),
            group="state",
            rows=rows,
        )  # fmt: skip
        pages += table_pages(table, paper)
    if made["faults.csv"].rows:
        table = picked(
            made["faults.csv"],
            "Fault finder: what meter and gauges would read",
            {
                "zone": "zone", "state": "state", "fault": "fault", "flow": "flow",
                "change": "change\nof flow", "head": "pump\nhead",
                "pressure_in": "first joined\nin",
                "pressure_out": "first joined\nout", "note": "note",
            },
            notes=(
                "The same network with something wrong, solved again. Change: of the flow at the "
                "meter, as a share of what is expected.",
            ),
            wide="note",
            group="state",
        )  # fmt: skip
        pages += table_pages(table, paper, 8.0, 3)
    return pages
