"""The register of outputs: every file that a command writes, what it is for and when it is written.

The commands write through :func:`write_outputs`, which holds them to this list; the help of each
command and the tables of the README are made from it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from dripfield.core.cores import side_by_side
from dripfield.core.words import joined

Writer = Callable[[Path], object]

_LONG = {".pdf": 0, ".dxf": 1, ".png": 2, ".html": 3, ".gpkg": 4, ".xlsx": 5}
"""Kinds of file by how long they take to write, the longest first."""


@dataclass(frozen=True)
class Output:
    """A file that a command writes.

    Attributes
    ----------
    name : str
        Of the file, which is also the key of its writer.
    command : str
    what : str
        What it is, in a line.
    who : str
        Who wants it.
    when : str
        The condition it is written on, empty for always.
    """

    name: str
    command: str
    what: str
    who: str
    when: str = ""


_SEVERAL = "with several numbers of panels to choose from"
_BENCHMARK = "with a benchmark"
_CRS = "with a coordinate system"
_SHOTS = "with --shots"
_WATER = "with zones, pump and supply"
_OLDER = "with an older take-off"
_HEIGHTS = "with a tank, an enclosure or a return"
_SUBMITTAL = "with a rule set that has a list of its own"
_SHAPEFILE = "with --shapefile"

_EVERYBODY = "everybody, on the phone or on paper"
_CREW = "the crew"
_REVIEWER = "the reviewer"
_DESIGNER = "the designer"
_STARTER = "whoever starts it up"
_PUMP = "with [pump] and [supply]"
_DAILY = "with [design] daily_flow"

OUTPUTS = (
    Output(
        "plan.pdf",
        "layout",
        "the plan to scale: the whole bed, parts where it is large, then the tables",
        "whoever prints it, the permit",
    ),
    Output(
        "plan.png",
        "layout",
        "its first sheet: laterals with name, length and elevation, scale bar, north, cautions",
        _EVERYBODY,
    ),
    Output(
        "stakes.csv",
        "layout",
        "stakes as `point,northing,easting,elevation,description`, in order along each lateral",
        "the data collector",
    ),
    Output(
        "laterals.csv",
        "layout",
        "one row a lateral: length, elevation to set, how level and how even it really is",
        "the contractor who prices it, the reviewer",
    ),
    Output(
        "staking.dxf",
        "layout",
        "the drawing, in layers, at true coordinates and in the site's unit, with sheets to plot",
        "CAD, machine control",
    ),
    Output(
        "laterals.xlsx",
        "layout",
        "laterals, totals by panel, rules and stakes as a spreadsheet: numbers as numbers, sums",
        "the contractor who prices it",
    ),
    Output(
        "laterals.gpkg",
        "layout",
        "laterals and stakes as a GeoPackage, in the site's own coordinates",
        "maps and geographic information systems",
    ),
    Output(
        "laterals.geojson",
        "layout",
        "laterals and stakes in longitude and latitude; without a coordinate system in the site's "
        "own coordinates, which it says",
        "web maps",
    ),
    Output(
        "laterals.xml",
        "layout",
        "LandXML: laterals as alignments with profiles, and the stakes",
        "CAD, machine control",
    ),
    Output(
        "laterals.shp.zip",
        "layout",
        "laterals and stakes as shapefiles, in one archive",
        "geographic information systems",
        _SHAPEFILE,
    ),
    Output(
        "layout.json",
        "layout",
        "merit, totals by panel, the layout's code and its lines to the last digit: `accepted` "
        "under `[layout]` reads it back",
        "programs, the reviewer, the next run",
    ),
    Output(
        "panels.png",
        "layout",
        "merit, connections and tubing for one panel, two, three …, and merit over connections",
        "whoever has to choose",
        _SEVERAL,
    ),
    Output(
        "options.png",
        "layout",
        "the plan in small for each number of panels, with the price of each step",
        "whoever has to choose",
        _SEVERAL,
    ),
    Output(
        "batch.csv",
        "batch",
        "one row a site: what became of it, laterals, tubing, merit",
        "whoever has many sites",
    ),
    Output(
        "survey.json",
        "survey",
        "how far the survey can be trusted, suspect shots, gaps",
        "whoever checks it by program",
    ),
    Output(
        "survey.png",
        "survey",
        "the same on a map, with where to take more shots",
        "the surveyor",
    ),
    Output(
        "sheets.pdf",
        "sheets",
        "the crew's set: how to work, points, plan to scale, one card a lateral, tables, profiles",
        _CREW,
    ),
    Output(
        "phone.html",
        "sheets",
        "the same for the phone, without a network: marks to set, read, tick and save",
        _CREW,
    ),
    Output(
        "lateral_table.csv",
        "sheets",
        "one row a lateral: length, elevation, fall, bearing, rod, expected as laid",
        _CREW,
    ),
    Output(
        "field.csv",
        "sheets",
        "every mark in the order of work: how it is set, from where, gap, rod, coordinates",
        _CREW,
    ),
    Output(
        "points.csv",
        "sheets",
        "everything that may be measured from: benchmark, permanent points, corners",
        "the data collector",
    ),
    Output("stakes.csv", "sheets", "the marks as stakes, by number", "the data collector"),
    Output("flags.csv", "sheets", "flags, string and paint of each lateral", _CREW),
    Output(
        "rod_readings.csv",
        "sheets",
        "readings of every lateral and mark, by set-up",
        "whoever holds the rod",
        _BENCHMARK,
    ),
    Output(
        "stakeout_pnezd.csv",
        "sheets",
        "stake-out points without a header: point, northing, easting, elevation, description",
        "the data collector",
    ),
    Output(
        "stakeout_penzd.csv",
        "sheets",
        "the same, easting before northing",
        "a data collector that wants it so",
    ),
    Output(
        "laterals.xml",
        "sheets",
        "LandXML: laterals as alignments with profiles, and the points",
        "CAD, machine control",
    ),
    Output(
        "stakeout.geojson", "sheets", "laterals and points for a web map", "finding the bed", _CRS
    ),
    Output(
        "stakeout.kml", "sheets", "laterals and points for a globe viewer", "finding the bed", _CRS
    ),
    Output(
        "stakeout.gpx", "sheets", "laterals and points for a phone or GPS", "finding the bed", _CRS
    ),
    Output("staking.dxf", "sheets", "the drawing, as `layout` writes it", "CAD, machine control"),
    Output("joined.csv", "zones", "joined laterals: which laterals, in the order of flow", _CREW),
    Output(
        "zones.csv", "zones", "zones: tubing, emitters, area, flows, share of the day", _DESIGNER
    ),
    Output(
        "hydraulics.csv", "zones", "flow, pressure and emission of every joined lateral", _REVIEWER
    ),
    Output(
        "duty.csv", "zones", "what the pump has to do for each zone, dosing and flushing", _DESIGNER
    ),
    Output("pipes.csv", "zones", "flow, velocity and loss of every pipe", _REVIEWER),
    Output(
        "checks.csv",
        "zones",
        "design checks: requirement, source, value, limit, verdict",
        _REVIEWER,
    ),
    Output(
        "trade.csv",
        "zones",
        "what other longest lengths and numbers of zones would take",
        _DESIGNER,
    ),
    Output("air.csv", "zones", "air and vacuum releases, and what each protects", _CREW),
    Output("doses.csv", "zones", "doses a day, run, rest, filling and flushing times", _DESIGNER),
    Output(
        "tank_levels.csv",
        "zones",
        "switch levels of the dosing tank: as entered, and as low as the doses let them be",
        _STARTER,
    ),
    Output(
        "drainage.csv",
        "zones",
        "what each joined lateral gets of a dose and its draining",
        _REVIEWER,
    ),
    Output("remedies.csv", "zones", "what would make the draining more even", _DESIGNER),
    Output(
        "loading.csv", "zones", "the ground that each emitter serves and its loading", _REVIEWER
    ),
    Output("linear_loading.csv", "zones", "water that passes the lower edge, along it", _REVIEWER),
    Output("commissioning.csv", "zones", "what meter and gauges should read, with room", _STARTER),
    Output(
        "faults.csv",
        "zones",
        "what they read with a line cut, a valve shut, a filter blocked",
        _STARTER,
    ),
    Output(
        "networks/ZONE_STATE.inp", "zones", "the networks, that any EPANET opens", _REVIEWER, _PUMP
    ),
    Output(
        "zones.png", "zones", "the plan of zones, joins, pipes, valves and air release", _EVERYBODY
    ),
    Output(
        "zones.pdf",
        "zones",
        "the same to scale, with checks, profile, loading, commissioning sheet and fault finder",
        _REVIEWER,
    ),
    Output("loading.png", "zones", "the loading map", _REVIEWER, _DAILY),
    Output("trade.png", "zones", "the choice of longest length and number of zones", _DESIGNER),
    Output("zones.dxf", "zones", "the drawing, in layers", "CAD"),
    Output(
        "volumes.csv",
        "bed",
        "what comes out and what goes in, by layer: in place, loose, truck loads, tonnes",
        "the contractor who prices it",
    ),
    Output("section.png", "bed", "sections along and across the bed", _EVERYBODY),
    Output("section.pdf", "bed", "the same, to scale", "the permit"),
    Output("section.dxf", "bed", "the same as a drawing with dimensions", "CAD"),
    Output("depth_map.png", "bed", "lines of equal cut and fill, volumes, rules", "the digger"),
    Output("rake.csv", "bed", "grade stakes: heights, cut or fill, rod readings", _CREW),
    Output("rake.pdf", "bed", "the same as a map and a table", _CREW),
    Output("bed.json", "bed", "volumes, areas, rules and set-ups", "whoever checks it by program"),
    Output("toe.csv", "bed", "stakes along toe and shoulder", _CREW),
    Output(
        "earth.csv",
        "bed",
        "what is stripped and used again, brought, taken away",
        "whoever orders trucks",
    ),
    Output(
        "finished.dxf", "bed", "the finished grade as 3D faces, toe and shoulder", "machine control"
    ),
    Output("finished.xml", "bed", "the finished grade as a LandXML surface", "machine control"),
    Output(
        "prepare.pdf",
        "prepare",
        "take-off, coil plan, heights, readiness list, day plan and submittal, to print",
        "the contractor",
    ),
    Output(
        "takeoff.csv",
        "prepare",
        "everything that must be there, with its formula, rounded to what is sold",
        "the contractor who prices it",
    ),
    Output("takeoff.xlsx", "prepare", "all the tables as a spreadsheet", "the contractor"),
    Output("coils.csv", "prepare", "from which coil each length of tubing is cut", _CREW),
    Output(
        "changes.csv",
        "prepare",
        "what is to be bought otherwise than the last take-off said",
        "whoever has ordered already",
        _OLDER,
    ),
    Output(
        "heights.csv",
        "prepare",
        "lids, risers, blocks, flotation and the fall of the return: pass, fail or not proven",
        "the contractor",
        _HEIGHTS,
    ),
    Output(
        "readiness.csv",
        "prepare",
        "what must be ready, by whom and when; ticks in its column `state` are kept",
        "everybody",
    ),
    Output(
        "readiness.html",
        "prepare",
        "the same list to tick on the phone, without a network",
        "the contractor",
    ),
    Output("day.csv", "prepare", "tasks with crew, times, slack and critical path", _CREW),
    Output("day.png", "prepare", "the same as bars", _EVERYBODY),
    Output(
        "what_if.csv",
        "prepare",
        "what a late electrician, no water or a bed out of tolerance does to the day",
        "the contractor",
    ),
    Output(
        "submittal.csv",
        "prepare",
        "what the plan must show for a rule set, filled, with its gaps",
        _REVIEWER,
        _SUBMITTAL,
    ),
    Output("bed_check.csv", "check-bed", "every shot against the design", _REVIEWER),
    Output("bed_check.png", "check-bed", "highs and lows on a map, and the verdict", _CREW),
    Output("rake_zones.csv", "check-bed", "where to rake off or fill, and how much", _CREW),
    Output(
        "laterals_as_raked.csv",
        "check-bed",
        "whether each lateral would lie level on the bed as raked",
        _REVIEWER,
    ),
    Output(
        "verdict.json", "check-bed", "pass, fail or not proven, why, where to shoot more", _REVIEWER
    ),
    Output(
        "verdict.json", "compare", "pass, fail or not proven, why, where to measure more", _REVIEWER
    ),
    Output(
        "comparison.csv",
        "compare",
        "every run of the plan and every lateral, with a verdict and its reasons",
        _REVIEWER,
    ),
    Output("totals.csv", "compare", "what plan and layout add up to", _REVIEWER),
    Output("setbacks.csv", "compare", "every distance to keep, and how it is kept", _REVIEWER),
    Output("record.csv", "compare", "what was laid, lateral by lateral", _REVIEWER, _SHOTS),
    Output("comparison.pdf", "compare", "the review sheet, to sign", _REVIEWER),
    Output("comparison.html", "compare", "the same as one web page", _REVIEWER),
    Output(
        "verdict.json", "record", "pass, fail or not proven, why, where to shoot more", _REVIEWER
    ),
    Output("record.csv", "record", "what was laid, lateral by lateral", _REVIEWER),
    Output("record_points.csv", "record", "every shot, how far off it is", "the surveyor"),
    Output("setbacks.csv", "record", "every distance to keep, and how it was kept", _REVIEWER),
    Output(
        "ties.csv",
        "record",
        "distances of ends and bends from permanent points",
        "whoever must find the tubing again",
    ),
    Output(
        "water_as_laid.csv",
        "record",
        "flow, head, pressure and emission of every zone, as designed and as laid",
        _REVIEWER,
        _WATER,
    ),
    Output(
        "hydraulics_as_laid.csv",
        "record",
        "every joined lateral as laid, dosing and flushing, in the columns of hydraulics.csv",
        _REVIEWER,
        _WATER,
    ),
    Output("record.dxf", "record", "the record drawing", "CAD, the file of the system"),
    Output("record.pdf", "record", "the record sheet, to sign", _REVIEWER),
    Output("record.png", "record", "its map", _EVERYBODY),
    Output("record.html", "record", "the same as one web page", _REVIEWER),
)


def outputs_of(command: str) -> tuple[Output, ...]:
    """The files of a command, in the order of the register."""
    return tuple(one for one in OUTPUTS if one.command == command)


def file_names(command: str, conditions: Iterable[str] = ()) -> list[str]:
    """Names of the files that a command writes where these conditions hold, in order."""
    held = set(conditions)
    return [one.name for one in outputs_of(command) if not one.when or one.when in held]


def write_outputs(command: str, folder: Path, writers: Mapping[str, Writer]) -> dict[Path, object]:
    """Write the files of a command into a folder, side by side on the cores.

    Parameters
    ----------
    command : str
    folder : Path
        Exists.
    writers : mapping of str to callable
        What writes each file, by its name, given the path; a file that has a condition is left out
        where the condition does not hold. None may need another's file, nor change what another
        reads: they run in any order, and in several processes.

    Returns
    -------
    dict of Path to object
        The files written, in the register's order, and what their writers return.

    Raises
    ------
    ValueError
        A writer is not registered, or a file that is always written has none.
    """
    registered = outputs_of(command)
    unknown = set(writers) - {one.name for one in registered}
    missing = {one.name for one in registered if not one.when} - set(writers)
    if unknown or missing:
        raise ValueError(f"{command}: not registered {sorted(unknown)}, missing {sorted(missing)}")
    names = [one.name for one in registered if one.name in writers]
    longest_first = sorted(names, key=lambda name: _LONG.get(Path(name).suffix, len(_LONG)))
    told = side_by_side([partial(writers[name], folder / name) for name in longest_first])
    by_name = dict(zip(longest_first, told, strict=True))
    return {folder / name: by_name[name] for name in names}


def in_words(command: str) -> str:
    """The files of a command for its help: names, and the condition after those that have one."""
    always = [one.name for one in outputs_of(command) if not one.when]
    some: dict[str, list[str]] = {}
    for one in outputs_of(command):
        if one.when:
            some.setdefault(one.when, []).append(one.name)
    parts = [f"{when} {joined(names)}" for when, names in some.items()]
    more = f"; {'; '.join(parts)}" if parts else ""
    return f"{joined(always)} into DIR{more}"


def markdown(*commands: str) -> str:
    """The README's table of the files of one command or of several."""
    rows = ["| file | what it is | who wants it |", "| --- | --- | --- |"]
    if len(commands) > 1:
        rows = ["| command | file | what it is | who wants it |", "| --- | --- | --- | --- |"]
    for command in commands:
        for one in outputs_of(command):
            what = f"{one.when}: {one.what}" if one.when else one.what
            first = f"| `{command}` " if len(commands) > 1 else ""
            rows.append(f"{first}| `{one.name}` | {what} | {one.who} |")
    return "\n".join(rows)
