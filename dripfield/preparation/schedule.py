"""Critical path of a day: earliest and latest times, slack, and who waits for whom.

Critical path method (Kelley and Walker 1959): earliest times forward over the tasks in the order
of precedence, latest times backward from the end; a task without slack is critical.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Sequence
from dataclasses import dataclass

from dripfield.core.errors import input_error

_SAME = 1e-9


@dataclass(frozen=True)
class Task:
    """Something a crew does.

    Attributes
    ----------
    name, crew : str
    duration : float
        [h]
    after : tuple of str
        Tasks that must be finished first.
    not_before : float
        Hours after the day's start before which it cannot start.
    needs : tuple of str
        What it cannot be done without.
    source : str
        ``site``, or ``assumption``.
    """

    name: str
    crew: str
    duration: float
    after: tuple[str, ...] = ()
    not_before: float = 0.0
    needs: tuple[str, ...] = ()
    source: str = "site"


@dataclass(frozen=True)
class Planned:
    """A task with its times in hours after the day's start [h]."""

    task: Task
    earliest_start: float
    earliest_finish: float
    latest_start: float
    latest_finish: float

    @property
    def slack(self) -> float:
        """By how much it may be late without the end being late [h]."""
        return max(0.0, self.latest_start - self.earliest_start)

    @property
    def critical(self) -> bool:
        """Without slack."""
        return self.slack <= 1e-6


@dataclass(frozen=True)
class Wait:
    """A crew that cannot start because another crew is not finished.

    ``hours`` is how long it stands idle before the task, since its own last one or the day's start.
    """

    crew: str
    task: str
    waits_for: str
    its_crew: str
    hours: float


@dataclass(frozen=True)
class Schedule:
    """A day as planned.

    Attributes
    ----------
    tasks : tuple of Planned
        By earliest start, then in the order given.
    end : float
        [h]
    critical_path : tuple of str
        One chain of critical tasks from the start to the end.
    waits : tuple of Wait
    overlaps : tuple of (str, str, str)
        A crew and two of its tasks that overlap at their earliest times: it would have to part.
    """

    tasks: tuple[Planned, ...]
    end: float
    critical_path: tuple[str, ...]
    waits: tuple[Wait, ...]
    overlaps: tuple[tuple[str, str, str], ...]

    def __getitem__(self, name: str) -> Planned:
        """The task of a name."""
        return next(one for one in self.tasks if one.task.name == name)


def schedule(tasks: Sequence[Task]) -> Schedule:
    """Plan a day's tasks.

    Raises
    ------
    InputError
        No task, two of one name, a duration that is negative or no number, a task after one that is
        not there, or tasks that wait for each other (the cycle is named).
    """
    check_tasks(tasks)
    ordered = _in_order(tasks)
    start: dict[str, float] = {}
    finish: dict[str, float] = {}
    for task in ordered:
        start[task.name] = max([task.not_before, *(finish[name] for name in task.after)])
        finish[task.name] = start[task.name] + task.duration
    end = max(finish.values())
    latest = dict.fromkeys(finish, end)
    for task in reversed(ordered):
        for name in task.after:
            latest[name] = min(latest[name], latest[task.name] - task.duration)
    planned = [
        Planned(
            task,
            start[task.name],
            finish[task.name],
            latest[task.name] - task.duration,
            latest[task.name],
        )
        for task in ordered
    ]
    place = {task.name: i for i, task in enumerate(tasks)}
    planned.sort(key=lambda one: (round(one.earliest_start, 9), place[one.task.name]))
    return Schedule(tuple(planned), end, _path(planned, end), _waits(planned), _overlaps(planned))


def check_tasks(tasks: Sequence[Task]) -> None:
    """Refuse tasks that cannot be planned, whatever they are.

    Raises
    ------
    InputError
        As :func:`schedule`, but for a cycle.
    """
    field = "[[day.tasks]]"
    if not tasks:
        raise input_error(
            "the day has no tasks", "give at least one", file="site.toml", field=field
        )
    names = [task.name for task in tasks]
    for task in tasks:
        if names.count(task.name) > 1:
            raise input_error(
                f"two tasks are called {task.name!r}",
                "give each its own name",
                file="site.toml",
                field=f"{field} task",
            )
        if ";" in task.name or not task.name.strip():
            raise input_error(
                f"the task {task.name!r} is no name to list",
                "give it a name without a semicolon",
                file="site.toml",
                field=f"{field} task",
            )
        if not (math.isfinite(task.duration) and task.duration >= 0.0):
            raise input_error(
                f"{task.name} lasts {task.duration:g} h",
                "give a duration of zero or more hours",
                file="site.toml",
                field=f"{field} duration",
            )
        for other in task.after:
            if other not in names:
                closest = difflib.get_close_matches(other, names, n=1, cutoff=0.0)[0]
                raise input_error(
                    f"{task.name} comes after {other!r}, which is no task",
                    f"the closest is {closest!r}",
                    file="site.toml",
                    field=f"{field} after",
                )


def _in_order(tasks: Sequence[Task]) -> list[Task]:
    """Tasks so that each follows those it waits for, else in the order given."""
    done: set[str] = set()
    left = list(tasks)
    ordered: list[Task] = []
    while left:
        ready = [task for task in left if done.issuperset(task.after)]
        if not ready:
            cycle = _cycle(left)
            raise input_error(
                f"tasks wait for each other: {' after '.join(cycle)}",
                "take one out of the other's after",
                file="site.toml",
                field="[[day.tasks]] after",
            )
        ordered += ready
        done.update(task.name for task in ready)
        left = [task for task in left if task.name not in done]
    return ordered


def _cycle(left: Sequence[Task]) -> list[str]:
    """A ring of tasks, the first repeated at its end; every task left waits for another left."""
    waits = {task.name: task.after for task in left}
    seen = [left[0].name]
    while True:
        following = next(name for name in waits[seen[-1]] if name in waits)
        if following in seen:
            return [*seen[seen.index(following) :], following]
        seen.append(following)


def _path(planned: Sequence[Planned], end: float) -> tuple[str, ...]:
    """Back from the task that ends the day along tasks that finish just as the next one starts."""
    by_name = {one.task.name: one for one in planned}
    last = next(one for one in reversed(planned) if abs(one.earliest_finish - end) <= _SAME)
    chain = [last]
    while True:
        here = chain[-1]
        before = [
            by_name[name]
            for name in here.task.after
            if abs(by_name[name].earliest_finish - here.earliest_start) <= _SAME
        ]
        if not before:
            return tuple(one.task.name for one in reversed(chain))
        chain.append(before[0])


def _waits(planned: Sequence[Planned]) -> tuple[Wait, ...]:
    by_name = {one.task.name: one for one in planned}
    waits = []
    for one in planned:
        before = [by_name[name] for name in one.task.after]
        if not before:
            continue
        driver = max(before, key=lambda other: other.earliest_finish)
        if driver.task.crew == one.task.crew or driver.earliest_finish < one.earliest_start - _SAME:
            continue
        own = [
            other.earliest_finish
            for other in planned
            if other.task.crew == one.task.crew
            and other.earliest_finish <= one.earliest_start + _SAME
            and other is not one
        ]
        idle = one.earliest_start - max(own, default=0.0)
        if idle > _SAME:
            waits.append(
                Wait(one.task.crew, one.task.name, driver.task.name, driver.task.crew, idle)
            )
    return tuple(waits)


def _overlaps(planned: Sequence[Planned]) -> tuple[tuple[str, str, str], ...]:
    found = []
    for i, one in enumerate(planned):
        for other in planned[i + 1 :]:
            if (
                one.task.crew == other.task.crew
                and other.earliest_start < one.earliest_finish - _SAME
                and one.earliest_start < other.earliest_finish - _SAME
            ):
                found.append((one.task.crew, one.task.name, other.task.name))
    return tuple(found)
