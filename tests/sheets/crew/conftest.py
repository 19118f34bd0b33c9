"""The crew's work on the hand-made fields of the folder above."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import msgspec
import pytest

from dripfield.sheets.crew.gather import CrewWork, gather
from dripfield.site.schema.crew import Benchmark
from dripfield.staking.settings import crew_settings

NAMES = {  # what people, and people who mean harm, call a site or a mark
    "markup": '</script><img src=x onerror="alert(1)">, "quoted" & \'single\' @key@',
    "right to left": "שדה עליון",
    "long": "x" * 200,
    "letters": "地块 №5 · Ёлка, Größe",
    "table": 'a,b;c\td "e"',
    "mathematics": r"cost $5 \frac{1}{2} x_1^2 %d {0}",
}


def renamed(field: Any, name: str) -> Any:
    """A field whose laterals are called by a name and a number."""
    laterals = tuple(
        replace(lateral, name=f"{name} {i}") for i, lateral in enumerate(field.layout.laterals)
    )
    measured = tuple(
        replace(one, name=lateral.name)
        for one, lateral in zip(field.measured.laterals, laterals, strict=True)
    )
    return replace(
        field,
        layout=replace(field.layout, laterals=laterals),
        measured=replace(field.measured, laterals=measured),
    )


def crew_site(field: Any, name: str | None = None, **tables: Any) -> Any:
    """A field's site with further tables in its site file."""
    file = msgspec.structs.replace(field.site.file, **tables)
    if name is not None:
        file = msgspec.structs.replace(file, site=msgspec.structs.replace(file.site, name=name))
    return replace(field.site, file=file)


@pytest.fixture(scope="session")
def crew_work() -> Callable[..., CrewWork]:
    """Makes the crew's work of a field; ``tables`` go into the site file, ``options`` beside it.

    The same field with the same tables gives the same work, made once: nothing changes it.
    """
    made: dict[tuple[int, str, str], tuple[Any, CrewWork]] = {}

    def make(field: Any, *, options: dict[str, Any] | None = None, **tables: Any) -> CrewWork:
        key = (id(field), repr(options), repr(sorted(tables.items())))
        if key not in made:
            site = crew_site(field, **tables)
            settings = crew_settings(site, **(options or {}))
            ground = replace(field.ground, site=site)
            made[key] = field, gather(replace(field, ground=ground), settings, crews=2)
        return made[key][1]

    return make


@pytest.fixture(scope="session")
def benched(crew_work: Callable[..., CrewWork]) -> Callable[..., CrewWork]:
    """The same with a benchmark BM 1 at 103.20, north-west of the bed."""

    def make(field: Any, **tables: Any) -> CrewWork:  # options too
        mark = Benchmark(name="BM 1", elevation=103.2, northing=60.0, easting=-20.0)
        return crew_work(field, **{"benchmark": mark, **tables})

    return make


@pytest.fixture(scope="session")
def names() -> dict[str, str]:
    """Awkward names by what is awkward about them."""
    return NAMES


@pytest.fixture(scope="session", name="renamed")
def _renamed() -> Callable[[Any, str], Any]:
    return renamed
