"""The day's plan: tasks entered or defaulted, clock times, and what-ifs."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from dripfield.core.errors import input_error
from dripfield.preparation.practice import ASSUMED
from dripfield.preparation.schedule import Schedule, Task, schedule
from dripfield.site.schema.preparation import DayTable

WATER, LEVEL_BED = "water", "level bed"
ELECTRICIAN, INSPECTION, BACKFILL = "electrician", "inspection", "backfill"


@dataclass(frozen=True)
class Effect:
    """What one change does to the day.

    Attributes
    ----------
    case : str
    end, inspection, backfill : float or None
        When the day, the inspection and the backfill are finished, in hours after the start [h];
        None: they cannot be done, or there is no such task.
    blocked : tuple of str
        Tasks that cannot be done at all.
    text : str
    """

    case: str
    end: float | None
    inspection: float | None
    backfill: float | None
    blocked: tuple[str, ...]
    text: str


@dataclass(frozen=True)
class DayPlan:
    """The day.

    Attributes
    ----------
    start, end : float
        Of work, hours after midnight [h].
    schedule : Schedule
    effects : tuple of Effect
        First the day as planned, then each what-if.
    notes : tuple of str
        Defaults that nobody entered, and crews that would have to part.
    """

    start: float
    end: float
    schedule: Schedule
    effects: tuple[Effect, ...]
    notes: tuple[str, ...]

    def clock(self, hours: float) -> str:
        """Hours after the start as a clock time."""
        return clock(self.start + hours)


def clock(hours: float) -> str:
    """Hours after midnight as ``HH:MM``, with days where it is later than midnight."""
    minutes = round(hours * 60.0)
    days, minutes = divmod(minutes, 24 * 60)
    later = f" (+{days} d)" if days else ""
    return f"{minutes // 60:02d}:{minutes % 60:02d}{later}"


def hours_of(text: str, field: str) -> float:
    """Clock time as hours after midnight.

    Raises
    ------
    InputError
        Not ``HH:MM`` from 00:00 to 24:00.
    """
    match = re.fullmatch(r"(\d{1,2}):(\d{2})", text.strip())
    hours = int(match[1]) + int(match[2]) / 60.0 if match else -1.0
    if match is None or int(match[2]) > 59 or not 0.0 <= hours <= 24.0:
        raise input_error(
            f"{text!r} is no clock time", "write it as 07:30", file="site.toml", field=field
        )
    return hours


def default_tasks(*, bed: bool, tanks: bool, electrician: bool) -> tuple[Task, ...]:
    """A day's usual tasks with their crews; every duration is an assumption.

    Parameters
    ----------
    bed : bool
        A sand bed is raked, rather than lines laid in the ground.
    tanks : bool
        Tanks are filled and tested on the day.
    electrician : bool
        A control panel is wired on the day.

    Returns
    -------
    tuple of Task
        From marking out to backfill, lines from the top down.
    """
    tasks = [
        Task("mark out laterals", "layout crew", 1.5, ("check bed",) if bed else ()),
        Task(
            "lay laterals from the top down",
            "field crew",
            3.0,
            ("mark out laterals",),
            needs=(LEVEL_BED,) if bed else (),
        ),
        Task("join laterals and manifolds", "field crew", 2.0, ("lay laterals from the top down",)),
        Task("lay supply and return", "pipe crew", 2.0),
        Task(
            "flush and pressure test",
            "field crew",
            1.0,
            (
                "join laterals and manifolds",
                "lay supply and return",
                *(["wire control panel"] if electrician else []),
                *(["fill tank"] if tanks else []),
            ),
            needs=(WATER,),
        ),
        Task(INSPECTION, "inspector", 0.5, ("flush and pressure test",)),
        Task(BACKFILL, "pipe crew", 1.5, (INSPECTION,)),
    ]
    if bed:
        tasks.insert(0, Task("check bed", "layout crew", 0.5, needs=(LEVEL_BED,)))
    if tanks:
        tasks.append(
            Task("fill tank", "pipe crew", 0.5, ("lay supply and return",), needs=(WATER,))
        )
    if electrician:
        tasks.insert(0, Task("wire control panel", ELECTRICIAN, 3.0))
    return tuple(replace(one, source=ASSUMED) for one in tasks)


def day_plan(table: DayTable, default: Sequence[Task] = ()) -> DayPlan:
    """Plan the day and what happens when something goes wrong.

    Parameters
    ----------
    table : DayTable
    default : sequence of Task
        Taken where the table has no tasks.

    Returns
    -------
    DayPlan

    Raises
    ------
    InputError
        Tasks that cannot be planned, clock times that are none, or an end before the start.
    """
    start = hours_of(table.start or "07:00", "[day] start")
    end = hours_of(table.end or "17:00", "[day] end")
    if end <= start:
        raise input_error(
            f"work ends at {clock(end)}, not after its start at {clock(start)}",
            "correct one of the two",
            file="site.toml",
            field="[day] end",
        )
    tasks = tuple(
        Task(
            one.task,
            one.crew,
            one.duration,
            tuple(one.after),
            0.0
            if one.not_before is None
            else max(0.0, hours_of(one.not_before, "[[day.tasks]] not_before") - start),
            tuple(one.needs),
        )
        for one in table.tasks
    ) or tuple(default)
    plan = schedule(tasks)
    watched = (
        _watched(tasks, table.inspection, INSPECTION, "inspection"),
        _watched(tasks, table.backfill, BACKFILL, "backfill"),
    )
    base = _effect("as planned", plan, (), watched, start, end, None)
    effects = [base, *_what_ifs(tasks, plan, table, watched, start, end, base)]
    notes = [
        f"[day] {key} is taken as {clock(value)}: {ASSUMED}"
        for key, value in (("start", start), ("end", end))
        if getattr(table, key) is None
    ]
    notes.append("lay from the top down; no wheels over laid lines, at any time")
    assumed = sum(one.source == ASSUMED for one in tasks)
    if assumed:
        notes.append(f"{assumed} tasks with their durations and crews are assumptions")
    notes += [
        f"{crew} would have to part: {one!r} and {other!r} overlap"
        for crew, one, other in plan.overlaps
    ]
    return DayPlan(start, end, plan, tuple(effects), tuple(notes))


def _watched(tasks: Sequence[Task], entered: str | None, usual: str, key: str) -> str | None:
    names = [task.name for task in tasks]
    if entered is not None and entered not in names:
        raise input_error(
            f"{entered!r} is no task of the day",
            "name one of the tasks",
            file="site.toml",
            field=f"[day] {key}",
        )
    name = entered or usual
    return name if name in names else None


def _what_ifs(
    tasks: Sequence[Task],
    plan: Schedule,
    table: DayTable,
    watched: tuple[str | None, str | None],
    start: float,
    end: float,
    base: Effect,
) -> list[Effect]:
    effects = []
    late = 2.0 if table.electrician_late is None else table.electrician_late
    if any(ELECTRICIAN in one.crew.lower() for one in tasks):
        own = [one.name for one in tasks if ELECTRICIAN in one.crew.lower()]
        arrival = min(plan[name].earliest_start for name in own) + late
        changed = [
            replace(one, not_before=max(one.not_before, arrival)) if one.name in own else one
            for one in tasks
        ]
        case = f"electrician {late:g} h late"
        effects.append(_effect(case, schedule(changed), (), watched, start, end, base))
    if any(WATER in one.needs for one in tasks):
        effects.append(_without(WATER, "no water", tasks, watched, start, end, base))
    checks = [one for one in tasks if LEVEL_BED in one.needs]
    if checks:
        rework = 2.0 if table.rework is None else table.rework
        source = f", {ASSUMED}" if table.rework is None else ""
        first = min(checks, key=lambda one: plan[one.name].earliest_start)
        changed = [
            replace(one, duration=one.duration + rework) if one is first else one for one in tasks
        ]
        case = f"bed out of tolerance ({rework:g} h to rake and check again{source})"
        effects.append(_effect(case, schedule(changed), (), watched, start, end, base))
    return effects


def _without(
    what: str,
    case: str,
    tasks: Sequence[Task],
    watched: tuple[str | None, str | None],
    start: float,
    end: float,
    base: Effect,
) -> Effect:
    """Tasks that need something, and all that follow them, cannot be done."""
    blocked = {one.name for one in tasks if what in one.needs}
    while True:
        more = {one.name for one in tasks if blocked.intersection(one.after)} - blocked
        if not more:
            break
        blocked |= more
    left = [one for one in tasks if one.name not in blocked]
    names = tuple(one.name for one in tasks if one.name in blocked)
    return _effect(case, schedule(left) if left else None, names, watched, start, end, base)


def _effect(
    case: str,
    plan: Schedule | None,
    blocked: tuple[str, ...],
    watched: tuple[str | None, str | None],
    start: float,
    end: float,
    base: Effect | None,
) -> Effect:
    finish = {one.task.name: one.earliest_finish for one in plan.tasks} if plan else {}
    inspection, backfill = (finish.get(name) if name else None for name in watched)
    words = []
    for label, name, value, before in (
        ("inspection", watched[0], inspection, base.inspection if base else None),
        ("backfill", watched[1], backfill, base.backfill if base else None),
    ):
        if name is None:
            words.append(f"{label}: no such task")
        elif value is None:
            words.append(f"{label} cannot be done")
        else:
            words.append(_finished(label, value, before, start, end))
    if blocked:
        words.append("cannot be done: " + ", ".join(blocked))
    last = plan.end if plan and not blocked else None
    return Effect(case, last, inspection, backfill, blocked, "; ".join(words))


def _finished(label: str, value: float, before: float | None, start: float, end: float) -> str:
    later = ""
    if before is not None:
        moved = value - before
        later = ", as planned" if abs(moved) < 1e-6 else f", {moved:.1f} h later"
    beyond = value - (end - start)
    same = "the same day" if beyond <= 1e-6 else f"{beyond:.1f} h after the end of work"
    return f"{label} finished {clock(start + value)}{later}, {same}"
