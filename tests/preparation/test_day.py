"""Critical path against a graph library; what-ifs; refusals."""

from __future__ import annotations

import random

import networkx as nx
import pytest

from dripfield.core.errors import InputError
from dripfield.preparation.day import clock, day_plan, default_tasks, hours_of
from dripfield.preparation.schedule import Task, schedule
from dripfield.site.schema.preparation import DayTable, TaskTable


def random_tasks(seed: int) -> list[Task]:
    chance = random.Random(seed)
    names = [f"t{i}" for i in range(chance.randint(1, 25))]
    tasks = [
        Task(
            name,
            chance.choice(["a", "b", "c"]),
            chance.choice([0.0, 0.5, 1.0, 2.25]),
            tuple(sorted(set(chance.choices(names[:i], k=min(i, chance.randint(0, 3)))))),
        )
        for i, name in enumerate(names)
    ]
    chance.shuffle(tasks)
    return tasks


@pytest.mark.parametrize("seed", range(40))
def test_critical_path_is_the_longest_path(seed: int) -> None:
    """networkx: longest path of the graph whose edges carry the duration of where they start."""
    tasks = random_tasks(seed)
    graph = nx.DiGraph()
    for task in tasks:
        graph.add_edge("start", task.name, weight=0.0)
        graph.add_edge(task.name, "end", weight=task.duration)
        duration = {one.name: one.duration for one in tasks}
        for other in task.after:
            graph.add_edge(other, task.name, weight=duration[other])
    plan = schedule(tasks)
    assert plan.end == pytest.approx(nx.dag_longest_path_length(graph))
    on_path = sum(plan[name].task.duration for name in plan.critical_path)
    assert on_path == pytest.approx(plan.end)
    assert all(plan[name].critical for name in plan.critical_path)
    for one in plan.tasks:  # a task with slack: the longest path through it is that much shorter
        ahead = graph.subgraph(nx.ancestors(graph, one.task.name) | {one.task.name})
        behind = graph.subgraph(nx.descendants(graph, one.task.name) | {one.task.name})
        through = nx.dag_longest_path_length(ahead) + nx.dag_longest_path_length(behind)
        assert plan.end - through == pytest.approx(one.slack)
        assert one.earliest_start == pytest.approx(nx.dag_longest_path_length(ahead))


@pytest.mark.parametrize("seed", range(20))
def test_the_order_given_does_not_change_the_times(seed: int) -> None:
    tasks = random_tasks(seed)
    one, other = schedule(tasks), schedule(list(reversed(tasks)))
    for planned in one.tasks:
        assert other[planned.task.name] == planned


def test_a_cycle_is_named_and_only_the_cycle() -> None:
    tasks = [
        Task("wire", "e", 1.0),
        Task("test", "f", 1.0, ("wire", "fill")),
        Task("fill", "f", 1.0, ("pump",)),
        Task("pump", "e", 1.0, ("test",)),
        Task("sign", "i", 1.0, ("test",)),
    ]
    with pytest.raises(InputError) as refusal:
        schedule(tasks)
    assert str(refusal.value) == (
        "site.toml, "
        "[[day.tasks]] after: tasks wait for each other: test after fill after pump after test;"
        " take one out of the other's after"
    )


@pytest.mark.parametrize(
    ("tasks", "line"),
    [
        ([], "site.toml, [[day.tasks]]: the day has no tasks; give at least one"),
        (
            [Task("dig", "c", -1.0)],
            "site.toml, "
            "[[day.tasks]] duration: dig lasts -1 h; give a duration of zero or more hours",
        ),
        (
            [Task("dig", "c", float("nan"))],
            "site.toml, "
            "[[day.tasks]] duration: dig lasts nan h; give a duration of zero or more hours",
        ),
        (
            [Task("dig", "c", 1.0, ("dig",))],
            "site.toml, "
            "[[day.tasks]] after: tasks wait for each other: dig after dig; take one out of the"
            " other's after",
        ),
        (
            [Task("dig", "c", 1.0), Task("lay", "c", 1.0, ("digg",))],
            "site.toml, "
            "[[day.tasks]] after: lay comes after 'digg', which is no task; the closest is 'dig'",
        ),
        (
            [Task("dig", "c", 1.0), Task("dig", "d", 1.0)],
            "site.toml, [[day.tasks]] task: two tasks are called 'dig'; give each its own name",
        ),
        (
            [Task("dig; lay", "c", 1.0)],
            "site.toml, "
            "[[day.tasks]] task: the task 'dig; lay' is no name to list; give it a name without a"
            " semicolon",
        ),
    ],
)
def test_tasks_that_cannot_be_planned(tasks: list[Task], line: str) -> None:
    with pytest.raises(InputError) as refusal:
        schedule(tasks)
    assert str(refusal.value) == line


def test_who_waits_for_whom_and_who_would_have_to_part() -> None:
    """Hand-derived: the inspector waits 3 h for the crew, which has two tasks at once."""
    plan = schedule(
        [
            Task("lay", "crew", 3.0),
            Task("haul", "crew", 1.0),
            Task("look", "inspector", 1.0, ("lay",)),
        ]
    )
    (wait,) = plan.waits
    assert (wait.crew, wait.waits_for, wait.its_crew, wait.hours) == ("inspector", "lay", "crew", 3)
    assert plan.overlaps == (("crew", "lay", "haul"),)


SHORT = [
    TaskTable(task="wire", crew="electrician", duration=3.0),
    TaskTable(task="lay", crew="crew", duration=4.0, needs=["level bed"]),
    TaskTable(task="test", crew="crew", duration=1.0, after=["wire", "lay"], needs=["water"]),
    TaskTable(
        task="inspection", crew="inspector", duration=0.5, after=["test"], not_before="13:00"
    ),
    TaskTable(task="backfill", crew="crew", duration=2.0, after=["inspection"]),
    TaskTable(task="tidy", crew="electrician", duration=0.5, after=["wire"]),
]


def test_what_ifs_by_hand() -> None:
    """Start 07:00: tests end 12:00, the inspector comes at 13:00, backfill ends 15:30. With the
    electrician at 09:00 the test ends 13:00: nothing moves. At 11:00 it ends 15:00. A bed raked
    again for 2 h puts the test's end at 14:00. Without water nothing from the test on happens."""
    plan = day_plan(DayTable(start="07:00", end="16:00", tasks=SHORT))
    base, late, dry, rough = plan.effects
    assert (base.inspection, base.backfill) == (6.5, 8.5)
    assert (late.case, late.inspection, late.backfill) == ("electrician 2 h late", 6.5, 8.5)
    assert dry.blocked == ("test", "inspection", "backfill")
    assert (dry.inspection, dry.backfill, dry.end) == (None, None, None)
    assert (rough.inspection, rough.backfill) == (7.5, 9.5)
    assert rough.text == (
        "inspection finished 14:30, 1.0 h later, the same day; backfill finished 16:30, 1.0 h"
        " later, 0.5 h after the end of work"
    )
    later = day_plan(DayTable(start="07:00", end="16:00", electrician_late=4.0, tasks=SHORT))
    assert later.effects[1].inspection == 8.5


def test_every_task_of_a_late_electrician_is_late() -> None:
    tasks = [
        TaskTable(task="feed", crew="electrician", duration=0.5),
        TaskTable(task="panel", crew="electrician", duration=1.0),
    ]
    plan = day_plan(DayTable(tasks=tasks))
    assert plan.effects[1].end == 3.0


@pytest.mark.parametrize("bed", [True, False])
@pytest.mark.parametrize("tanks", [True, False])
@pytest.mark.parametrize("electrician", [True, False])
def test_default_days_can_be_planned(bed: bool, tanks: bool, electrician: bool) -> None:
    tasks = default_tasks(bed=bed, tanks=tanks, electrician=electrician)
    plan = day_plan(DayTable(), tasks)
    assert {one.source for one in tasks} == {"assumption"}
    cases = [one.case.split(" (")[0] for one in plan.effects]
    assert ("bed out of tolerance" in cases) == bed
    assert ("electrician 2 h late" in cases) == electrician
    assert "no water" in cases
    order = [one.task.name for one in plan.schedule.tasks]
    assert order.index("lay laterals from the top down") < order.index("inspection")
    assert order[-1] == "backfill"


def test_clock_times() -> None:
    assert clock(7.5) == "07:30"
    assert clock(25.25) == "01:15 (+1 d)"
    assert hours_of("13:45", "[day] start") == 13.75
    for wrong in ("7.30", "25:00", "12:60", "noon"):
        with pytest.raises(InputError) as refusal:
            hours_of(wrong, "[day] start")
        assert (
            str(refusal.value)
            == f"site.toml, [day] start: {wrong!r} is no clock time; write it as 07:30"
        )


def test_work_that_ends_before_it_starts_is_refused() -> None:
    with pytest.raises(
        InputError, match=r"^site.toml, \[day\] end: work ends at 06:00, not after its start"
    ):
        day_plan(DayTable(end="06:00", tasks=SHORT))
    with pytest.raises(
        InputError, match=r"^site.toml, \[day\] inspection: 'inspect' is no task of the day"
    ):
        day_plan(DayTable(inspection="inspect", tasks=SHORT))
