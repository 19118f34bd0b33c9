"""The level book: height of instrument, turning points, misclosure."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

HEAD = "point,backsight,intermediate,foresight,northing,easting,elevation,description\n"
# two set-ups closing back on the benchmark, invented; misclosure hand-derived below
BOOK = (
    HEAD
    + """BM1,4.25,,,,,520.50,nail in oak
1,,6.80,,0,0,,GS
2,,5.10,,0,20,,GS
TP1,3.00,,2.15,,,,stake
3,,4.45,,20,0,,GS
BM1,,,5.06,,,,
"""
)


def write(folder: Path, text: str, name: str = "book.csv") -> Path:
    path = folder / name
    path.write_text(text)
    return path


def one_set_up(elevation: float, backsight: float, rods: list[float]) -> str:
    rows = [f"BM,{backsight:.2f},,,,,{elevation:.2f},"]
    rows += [f"{i},,{rod:.2f},,{i},0,," for i, rod in enumerate(rods)]
    return HEAD + "\n".join(rows) + "\n"


@pytest.mark.parametrize(
    ("elevation", "backsight", "rod", "expected"),
    [
        # published: textbook differential levelling, BM Rock 820.00 + 8.42 = HI 828.42, less 1.20
        (820.00, 8.42, 1.20, 827.22),
        # published: exam-style example, 520.50 + 4.25 = HI 524.75, less 6.80
        (520.50, 4.25, 6.80, 517.95),
    ],
)
def test_published_height_of_instrument(tmp_path, read, elevation, backsight, rod, expected):
    survey = read(write(tmp_path, one_set_up(elevation, backsight, [rod])))
    assert survey.xyz[0, 2] == pytest.approx(expected, abs=1e-9)
    assert survey.notes == (
        "book.csv: 1 set-up, not closed on a known mark: the levels have no check",
    )


def test_misclosure_is_reported_and_spread_over_the_set_ups(tmp_path, read):
    """Hand-derived: HI 524.75; TP1 522.60; HI 525.60; BM1 520.54, so +0.04 in two set-ups."""
    survey = read(write(tmp_path, BOOK), closure_tolerance=0.05)
    assert survey.names == ("1", "2", "3")
    assert survey.rows.tolist() == [3, 4, 6]
    raw = np.array([524.75 - 6.80, 524.75 - 5.10, 525.60 - 4.45])
    assert np.allclose(survey.xyz[:, 2], raw - [0.02, 0.02, 0.04], atol=1e-9)
    assert survey.xyz[:, :2].tolist() == [[0, 0], [20, 0], [0, 20]]
    assert survey.notes == (
        "book.csv: 2 set-ups, misclosure +0.040 ft on BM1 (allowed 0.050), adjusted in proportion "
        "to the set-ups",
    )


def test_misclosure_beyond_the_tolerance(tmp_path, refusal):
    assert refusal(write(tmp_path, BOOK)) == (  # 0.02 ft times the root of 2
        "book.csv: the book misses BM1 by +0.040 ft over 2 set-ups, more than 0.028; find the "
        "reading that is wrong, or allow more with closure_tolerance under [survey] in site.toml"
    )


def test_a_book_that_closes_is_not_adjusted(tmp_path, read):
    survey = read(write(tmp_path, BOOK.replace("5.06", "5.10")))
    assert np.allclose(survey.xyz[:, 2], [517.95, 519.65, 521.15], atol=1e-9)
    assert survey.notes == ("book.csv: 2 set-ups, misclosure +0.000 ft on BM1 (allowed 0.028)",)


def test_the_sites_benchmark_starts_the_book(tmp_path, read, refusal):
    path = write(tmp_path, BOOK.replace("520.50", "").replace("5.06", "5.10"))
    survey = read(path, given={"marks": {"BM1": 520.50}})
    assert survey.xyz[0, 2] == pytest.approx(517.95, abs=1e-9)
    assert refusal(path, given={"marks": {"BM7": 1.0}}) == (
        "book.csv, row 2: the elevation of BM1 is not known here; give it in the column elevation, "
        "or take the foresight first"
    )
    assert refusal(write(tmp_path, BOOK), given={"marks": {"BM1": 520.60}}) == (
        "book.csv, row 2: the elevation of BM1 is 520.5 here and 520.6 elsewhere; correct the one "
        "that is wrong"
    )


def test_order_of_columns_and_short_names(tmp_path, read):
    book = "desc,FS,IS,BS,Station,Elev,E,N\nnail,,,4.25,BM,520.5,,\nGS,,6.8,,1,,30,40\n"
    survey = read(write(tmp_path, book))
    assert survey.xyz.tolist() == [[30, 40, pytest.approx(517.95)]]


ROW = "BM1,4.25,,,,,520.50,\n"


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (HEAD + "1,,6.80,,0,0,,\n" + ROW, "row 2: the intermediate comes before any backsight; "
         "start with the backsight on the benchmark"),
        (HEAD + ROW + "1,,6.80,,,,,\n", "row 3: point 1 was shot but has no northing and easting; "
         "give both"),
        (HEAD + ROW + "1,,6.80,,5,,,\n", "row 3: only one of northing and easting is given; give "
         "both or neither"),
        (HEAD + ROW + "1,,6.80,5.0,5,5,,\n", "row 3: the row has an intermediate and a foresight; "
         "give one of them: the foresight where the instrument moves next"),
        (HEAD + ROW + "1,,6.8O,,5,5,,\n", "row 3, intermediate: '6.8O' is not a number; correct "
         "it"),
        (HEAD + ROW + "1,,,,5,5,,\n", "row 3: the row has no reading; fill it or delete it"),
        (HEAD + ROW + ",,6.8,,5,5,,\n", "row 3: the row names no point; give the point's name"),
        (HEAD + ROW + "1,,6.8", "row 3: the last row stops after 3 fields: the file is cut short; "
         "export it again, or end the row with a line end if it is whole"),
        ("point,backsight,foresight\n", "row 1: the level book's header names no northing; name "
         "point, backsight, intermediate, foresight, northing and easting"),
    ],
)  # fmt: skip
def test_bad_books(tmp_path, refusal, text, line):
    assert refusal(write(tmp_path, text)) == f"book.csv, {line}"


def test_books_without_a_start_or_a_shot(tmp_path, refusal):
    assert refusal(write(tmp_path, HEAD)) == (
        "book.csv: the book has no backsight; give the one on the benchmark"
    )
    assert refusal(write(tmp_path, HEAD + ROW)) == (
        "book.csv: no row has both a reading and a plan position; give northing and easting of "
        "the points shot"
    )
