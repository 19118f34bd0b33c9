"""LandXML 1.2: CgPoints, and surfaces with their own triangles.

Northing comes first in every point. The parser fetches nothing, expands nothing, and a file with a
document type or entities is refused before it is parsed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from dripfield.core.arrays import Floats, Ints
from dripfield.core.errors import InputError, input_error
from dripfield.core.units import Unit
from dripfield.formats.signature import read_survey_text
from dripfield.formats.table import not_a_number
from dripfield.site.schema.survey import SurveyTable
from dripfield.survey.read.faces import upward
from dripfield.survey.shots import Survey

_LINEAR_UNITS = {"foot": Unit.FOOT, "USSurveyFoot": Unit.SURVEY_FOOT, "meter": Unit.METRE}
_ELEVATION_UNITS = {"feet": False, "meter": True, "meters": True}
_FORBIDDEN = re.compile(r"<!\s*(DOCTYPE|ENTITY)", re.IGNORECASE)


def read_landxml(path: Path, options: SurveyTable, unit: Unit) -> Survey:
    """Read a LandXML file.

    A triangulated surface is read with its own faces; its vertices take the names of CgPoints that
    lie on them. Without a surface the CgPoints are the shots.

    Parameters
    ----------
    path : Path
    options : SurveyTable
        ``surface`` names one of several surfaces.
    unit : Unit
        The site's; the file's ``Units`` must agree.

    Returns
    -------
    Survey
        ``rows`` are the lines of the file that the points' tags stand in.

    Raises
    ------
    InputError
        Not well-formed, entities, another unit, several surfaces and none named, a point without
        three numbers, a face without its points, or nothing to read.
    """
    root = parse_hardened(path)
    if _local(root) != "LandXML":
        raise input_error(
            f"its root element is {_local(root)}, not LandXML",
            "export it as LandXML 1.2",
            file=path,
        )
    notes = _check_units(root, path, unit)
    points = _cg_points(root, path, notes)
    surface = _surface(root, path, options.surface)
    if surface is None:
        if not points:
            raise input_error(
                "it holds no CgPoints and no surface", "export the points with it", file=path
            )
        return _survey(path, points, notes)
    definition = _first(surface, "Definition")
    if definition is not None and definition.get("surfType", "TIN") != "TIN":
        raise input_error(
            f"the surface is of type {definition.get('surfType')}",
            "export it as a TIN",
            file=path,
            row=definition.sourceline,
        )
    if definition is None or _first(definition, "Pnts") is None:
        shots = points + [(xyz, "", "", row) for xyz, row in _listed(surface, "DataPoints", path)]
        if not shots:
            raise input_error(
                "the surface has neither triangles nor points",
                "export its definition or its points with it",
                file=path,
                row=surface.sourceline,
            )
        lines = tuple(_lines(surface, path))
        return _survey(path, shots, notes, breaklines=lines, voids=_voids(surface, path))
    return _tin(path, definition, points, notes)


def parse_hardened(path: Path) -> Any:
    """The root element of an XML file.

    Raises
    ------
    InputError
        Where the file is not XML, or asks for a document type or entities.
    """
    from lxml import etree

    text = read_survey_text(path)
    forbidden = _FORBIDDEN.search(text)
    if forbidden is not None:
        raise input_error(
            f"it holds a {forbidden.group(1).upper()} declaration, which a survey never needs",
            "export it again without one",
            file=path,
            row=text.count("\n", 0, forbidden.start()) + 1,
        )
    parser = etree.XMLParser(
        encoding="utf-8",
        resolve_entities=False,
        load_dtd=False,
        no_network=True,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
    )
    try:
        return etree.fromstring(text.encode(), parser)
    except (etree.XMLSyntaxError, ValueError) as cause:
        raise input_error(
            f"it is not well-formed XML, or it is cut short ({getattr(cause, 'msg', cause)})",
            "export it again",
            file=path,
            row=getattr(cause, "lineno", None),
        ) from None


def _local(element: Any) -> str:
    return str(element.tag).rpartition("}")[2]


def _all(element: Any, name: str) -> Iterator[Any]:
    """Every descendant of that name, whatever its namespace."""
    return iter(element.iter(f"{{*}}{name}"))


def _first(element: Any, name: str) -> Any | None:
    return next(_all(element, name), None)


def _check_units(root: Any, path: Path, unit: Unit) -> list[str]:
    units = _first(root, "Units")
    system = next(iter(units), None) if units is not None else None
    if system is None:
        return [f"{path.name}: the file names no unit; read as {unit.label}"]
    name = system.get("linearUnit", "")
    if _LINEAR_UNITS.get(name) is not unit:
        raise _other_unit(path, system, "linearUnit", name, unit)
    heights = system.get("elevationUnit")
    if heights is not None and _ELEVATION_UNITS.get(heights, unit.is_metric) is not unit.is_metric:
        raise _other_unit(path, system, "elevationUnit", heights, unit)
    return []


def _other_unit(path: Path, system: Any, field: str, name: str, unit: Unit) -> InputError:
    return input_error(
        f"the file is in '{name}' and the site in {unit.label}",
        "export it in the site's unit, or correct units under [site] in site.toml",
        file=path,
        row=system.sourceline,
        field=field,
    )


Shot = tuple[Floats, str, str, int]
"""(easting, northing, elevation), name, description, row."""


def _cg_points(root: Any, path: Path, notes: list[str]) -> list[Shot]:
    shots: list[Shot] = []
    flat = 0
    for element in _all(root, "CgPoint"):
        text = (element.text or "").split()
        if not text and element.get("pntRef"):  # a mention of a point given elsewhere
            continue
        if len(text) == 2:
            flat += 1
            continue
        name = element.get("name") or element.get("oID") or ""
        description = element.get("code") or element.get("desc") or ""
        shots.append((_place(text, path, element), name, description, element.sourceline))
    if flat:
        notes.append(f"{path.name}: {flat} CgPoints without an elevation were passed over")
    return shots


def _place(numbers: list[str], path: Path, element: Any) -> Floats:
    """(easting, northing, elevation) from "northing easting elevation"."""
    name = element.get("name") or element.get("id")
    label = f"{_local(element)} {name}" if name else _local(element)
    if len(numbers) != 3:
        raise input_error(
            f"{label} holds {len(numbers)} numbers",
            "give northing, easting and elevation",
            file=path,
            row=element.sourceline,
        )
    for text in numbers:
        problem = not_a_number(text)
        if problem is not None:
            raise input_error(*problem, file=path, row=element.sourceline, field=label)
    north, east, up = map(float, numbers)
    return np.array((east, north, up))


def _surface(root: Any, path: Path, wanted: str | None) -> Any | None:
    surfaces = list(_all(root, "Surface"))
    if wanted is not None:
        chosen = [surface for surface in surfaces if surface.get("name") == wanted]
        if not chosen:
            raise input_error(
                f"it holds no surface '{wanted}' (it has {_names(surfaces) or 'none'})",
                "correct surface under [survey] in site.toml",
                file=path,
            )
        return chosen[0]
    if len(surfaces) > 1:
        raise input_error(
            f"it holds {len(surfaces)} surfaces ({_names(surfaces)})",
            'name one as surface = "…" under [survey] in site.toml',
            file=path,
        )
    return surfaces[0] if surfaces else None


def _names(surfaces: list[Any]) -> str:
    return ", ".join(surface.get("name", "without a name") for surface in surfaces)


def _survey(
    path: Path,
    shots: list[Shot],
    notes: list[str],
    *,
    breaklines: tuple[Floats, ...] = (),
    voids: tuple[Floats, ...] = (),
    faces: Ints | None = None,
) -> Survey:
    places, names, descriptions, rows = zip(*shots, strict=True)
    return Survey(
        xyz=np.array(places, dtype=np.float64),
        names=tuple(name or str(row) for name, row in zip(names, rows, strict=True)),
        descriptions=tuple(descriptions),
        rows=np.array(rows, dtype=np.int64),
        source=path,
        breaklines=breaklines,
        voids=voids,
        faces=faces,
        notes=tuple(notes),
    )


def _tin(path: Path, definition: Any, points: list[Shot], notes: list[str]) -> Survey:
    """The surveyor's own triangles over their points."""
    known = {
        tuple(xyz.round(4).tolist()): (name, description) for xyz, name, description, _ in points
    }
    number: dict[str, int] = {}
    shots: list[Shot] = []
    for element in _all(_first(definition, "Pnts"), "P"):
        mark = element.get("id", "")
        if mark in number:
            raise input_error(
                f"the surface has two points with the id {mark}",
                "export it again",
                file=path,
                row=element.sourceline,
            )
        xyz = _place((element.text or "").split(), path, element)
        name, description = known.pop(tuple(xyz.round(4).tolist()), (mark, ""))
        number[mark] = len(shots)
        shots.append((xyz, name or mark, description, element.sourceline))
    faces = []
    for element in _all(definition, "F"):
        if element.get("i") == "1":  # outside the surface
            continue
        marks = (element.text or "").split()
        missing = next((mark for mark in marks if mark not in number), None)
        if len(marks) != 3 or missing is not None:
            problem = (
                f"a face has {len(marks)} corners"
                if len(marks) != 3
                else f"a face stands on point {missing}, which is not there"
            )
            raise input_error(
                problem, "export the surface again", file=path, row=element.sourceline
            )
        faces.append([number[mark] for mark in marks])
    if not shots or not faces:
        raise input_error(
            "the surface has no points or no faces",
            "export its definition with it",
            file=path,
            row=definition.sourceline,
        )
    if known:
        notes.append(f"{path.name}: {len(known)} CgPoints that are no corner of the surface unused")
    survey = _survey(path, shots, notes)
    triangles = upward(survey.xyz, np.array(faces, dtype=np.int64))
    return _survey(path, shots, notes, faces=triangles)


def _listed(surface: Any, holder: str, path: Path) -> Iterator[tuple[Floats, int]]:
    """Each place in the 3D point lists of every ``holder``, with its row."""
    for element in _all(surface, holder):
        for line in _all(element, "PntList3D"):
            for place in _triples(line, path):
                yield place, line.sourceline


def _triples(element: Any, path: Path) -> Floats:
    """Places (k, 3) of a PntList3D."""
    numbers = (element.text or "").split()
    if len(numbers) % 3:
        raise input_error(
            f"PntList3D holds {len(numbers)} numbers, which are no triples",
            "export it again",
            file=path,
            row=element.sourceline,
        )
    return np.array(
        [_place(numbers[i : i + 3], path, element) for i in range(0, len(numbers), 3)]
    ).reshape(-1, 3)


def _lines(surface: Any, path: Path) -> Iterator[Floats]:
    """Breaklines of a surface's source data."""
    for breakline in _all(surface, "Breakline"):
        for points in _all(breakline, "PntList3D"):
            line = _triples(points, path)
            if len(line) >= 2:
                yield line


def _voids(surface: Any, path: Path) -> tuple[Floats, ...]:
    """Rings of the boundaries that are voids."""
    rings = []
    for boundary in _all(surface, "Boundary"):
        if boundary.get("bndType") != "void":
            continue
        for points in _all(boundary, "PntList3D"):
            rings.append(_triples(points, path)[:, :2])
        for points in _all(boundary, "PntList2D"):
            numbers = (points.text or "").split()
            if len(numbers) % 2:
                raise input_error(
                    f"PntList2D holds {len(numbers)} numbers, which are no pairs",
                    "export it again",
                    file=path,
                    row=points.sourceline,
                )
            pairs = [
                _place([north, east, "0"], path, points)[:2]
                for north, east in zip(numbers[::2], numbers[1::2], strict=True)
            ]
            rings.append(np.array(pairs))
    return tuple(ring for ring in rings if len(ring) >= 3)
