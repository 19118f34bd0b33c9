"""Drawings that break parsers: read past, said, or refused in one line, and soon."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import numpy as np
import pytest
from readers import plan, survey

from dripfield.core.errors import InputError


def block(name: str, body: str) -> str:
    head = f"  0\nBLOCK\n  8\n0\n  2\n{name}\n 70\n0\n 10\n0\n 20\n0\n 30\n0\n  3\n{name}\n"
    return f"{head}{body}  0\nENDBLK\n  8\n0\n"


def insert(name: str, more: str = "") -> str:
    return f"  0\nINSERT\n  8\n0\n  2\n{name}\n 10\n1\n 20\n0\n 30\n0\n{more}"


def line(x: str) -> str:
    return f"  0\nLINE\n  8\nLATERAL\n 10\n{x}\n 20\n2\n 11\n5\n 21\n5\n"


def face(corners: int) -> str:
    places = [(0, 0, 100), (10, 0, 101), (0, 10, 100)][:corners]
    return "  0\n3DFACE\n  8\n0\n" + "".join(
        f" {10 + i}\n{x}\n {20 + i}\n{y}\n {30 + i}\n{z}\n" for i, (x, y, z) in enumerate(places)
    )


POINT = "  0\nPOINT\n  8\n0\n 10\n1\n 20\n2\n 30\n103\n"
NEST = "".join(block(f"B{k}", 10 * insert(f"B{k + 1}")) for k in range(9)) + block("B9", POINT)
DEEP = "".join(block(f"B{k}", insert(f"B{k + 1}")) for k in range(40)) + block("B40", POINT)
ARRAY = " 70\n32000\n 71\n32000\n 44\n1\n 45\n1\n"


def drawn(folder: Path, entities: str, blocks: str = "") -> Path:
    """36 shots on a slope and three laterals, with what is hostile put in front of them."""
    document = ezdxf.new()
    document.header["$INSUNITS"] = 2
    space = document.modelspace()
    for i in range(6):
        for j in range(6):
            space.add_point((i * 10, j * 10, 100 + i + 0.3 * j * i))
    for i in range(3):
        space.add_lwpolyline([(0, i * 10), (50, i * 10 + 3)], dxfattribs={"layer": "LATERAL"})
    path = folder / "drawing.dxf"
    document.saveas(path)
    text = path.read_text()
    for section, more in (("ENTITIES", entities), ("BLOCKS", blocks)):
        text = text.replace(f"  2\n{section}\n", f"  2\n{section}\n{more}", 1)
    path.write_text(text)
    return path


EARTH = "which is no place on earth; correct it or delete it"
REFUSED = {
    "not a number": (POINT.replace("\n1\n", "\nnan\n"), "", f"point 1 has the coordinate nan, {EARTH}"),  # noqa: E501
    "infinite": (POINT.replace("\n1\n", "\n1e999\n"), "", f"point 1 has the coordinate inf, {EARTH}"),  # noqa: E501
    "far off": (POINT.replace("\n1\n", "\n1e200\n"), "", f"point 1 has the coordinate 1e+200, {EARTH}"),  # noqa: E501
    "face of no numbers": (face(3).replace("\n10\n", "\nnan\n"), "", f"face corner 2 has the coordinate nan, {EARTH}"),  # noqa: E501
    "holds itself": (insert("B"), block("B", insert("B")), "the block B holds itself; mend the drawing"),  # noqa: E501
    "two hold each other": (insert("B"), block("B", insert("C")) + block("C", POINT + insert("B")),
                            "the block B holds itself; mend the drawing"),
    "nested a thousand millionfold": (insert("B0"), NEST, "entities once its blocks are taken apart and at most 1,500,000"),  # noqa: E501
    "an array of copies": (insert("B", ARRAY), block("B", POINT), "entities once its blocks are taken apart"),  # noqa: E501
    "nested deep": (insert("B0"), DEEP, "lies more than 16 blocks deep; explode it in the drawing"),
}  # fmt: skip


@pytest.mark.parametrize(("entities", "blocks", "words"), REFUSED.values(), ids=REFUSED)
def test_survey_drawings_refused(tmp_path: Path, entities: str, blocks: str, words: str) -> None:
    with pytest.raises(InputError) as caught:
        survey(drawn(tmp_path, entities, blocks))
    assert words in str(caught.value)


PASSED = "drawing.dxf: 1 entities without a place were passed over"
READ = {
    "face of three corners": (face(3), "", None),
    "face of two corners": (face(2), "", PASSED),
    "symbol without a place": ("  0\nINSERT\n  8\n0\n  2\nB\n", block("B", line("1")), PASSED),
    "point without a place": ("  0\nPOINT\n  8\n0\n", "", PASSED),
    "points without a layer": (POINT.replace("  8\n0\n", ""), "", None),
    "dimension without a block": ("  0\nDIMENSION\n  8\n0\n  2\n*D99\n", "", None),
}  # fmt: skip


@pytest.mark.parametrize(("entities", "blocks", "note"), READ.values(), ids=READ)
def test_survey_drawings_read(tmp_path: Path, entities: str, blocks: str, note: str | None) -> None:
    found = survey(drawn(tmp_path, entities, blocks))
    assert len(found.xyz) >= 36
    assert [one for one in found.notes if "passed over" in one] == ([note] if note else [])


DAMAGED = "1 lines of the drawing are damaged and were left out"
PLANS = {
    "block missing": (insert("NOPE"), "", DAMAGED),
    "symbol without a name": ("  0\nINSERT\n  8\n0\n 10\n1\n 20\n1\n", "", DAMAGED),
    "symbol without a place": ("  0\nINSERT\n  8\n0\n  2\nB\n", block("B", POINT), DAMAGED),
    "no number": (line("nan"), "", DAMAGED),
    "far off": (line("1e200"), "", DAMAGED),
    "huge arc": ("  0\nARC\n  8\nLATERAL\n 10\n0\n 20\n2\n 40\n1e30\n 50\n0\n 51\n10\n", "", DAMAGED),  # noqa: E501
    "scaled off": (insert("B", " 41\n1e200\n"), block("B", line("1")), DAMAGED),
    "without a layer": (line("1").replace("  8\nLATERAL\n", ""), "", None),
    "dimension without a block": ("  0\nDIMENSION\n  8\n0\n  2\n*D99\n 70\n0\n 10\n0\n 20\n0\n", "", None),  # noqa: E501
    "bare dimension": ("  0\nDIMENSION\n  8\n0\n", "", None),
}  # fmt: skip


@pytest.mark.parametrize(("entities", "blocks", "note"), PLANS.values(), ids=PLANS)
def test_plan_drawings_read(tmp_path: Path, entities: str, blocks: str, note: str | None) -> None:
    found = plan(drawn(tmp_path, entities, blocks))
    assert len(found.runs) == 3
    assert [one for one in found.notes if "damaged" in one] == ([note] if note else [])


@pytest.mark.parametrize("case", ["holds itself", "nested a thousand millionfold", "nested deep"])
def test_plan_drawings_refused(tmp_path: Path, case: str) -> None:
    entities, blocks, words = REFUSED[case]
    with pytest.raises(InputError) as caught:
        plan(drawn(tmp_path, entities, blocks))
    assert words in str(caught.value)


def test_millions_of_points_are_counted_before_they_are_parsed(tmp_path: Path) -> None:
    path = tmp_path / "many.dxf"
    path.write_text("  0\nSECTION\n  2\nENTITIES\n" + 1_600_000 * POINT + "  0\nENDSEC\n  0\nEOF\n")
    with pytest.raises(InputError) as caught:
        survey(path)
    assert str(caught.value) == (
        "many.dxf: it has 1,600,003 entities and at most 1,500,000 are taken; delete what the site "
        "does not need"
    )  # the points, and the marks of the section and of the file's end


def test_thousands_of_ends_at_one_place_are_joined_soon() -> None:
    """Every end near every other: a list of pairs would grow with the square."""
    from dripfield.review.read.join import join_pieces

    rng = np.random.default_rng(1)
    pieces = [np.vstack((rng.uniform(0, 1e-4, 2), rng.uniform(5, 9, 2))) for _ in range(4000)]
    lines, repeated = join_pieces(pieces, 0.01)
    assert len(lines) + repeated > 3900
