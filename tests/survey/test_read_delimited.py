"""Delimited point files: orders, delimiters, encodings and every refusal word for word."""

from __future__ import annotations

import io
import random
import time
import zipfile
from pathlib import Path

import numpy as np
import pytest

from dripfield.core.units import Unit

SHOTS = [
    ("101", 5000.25, 2000.5, 100.125, "GS"),
    ("102", 5010.0, 2000.0, 100.5, "GS edge, north"),
    ("BM1", 5020.75, 2010.25, 101.0, "nail"),
]
XYZ = [(e, n, z) for _, n, e, z, _ in SHOTS]


def write(folder: Path, text: str | bytes, name: str = "survey.csv") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def lines(order: str, sign: str, header: str = "", quote: str = '"') -> str:
    rows = [header] if header else []
    for p, n, e, z, d in SHOTS:
        values = {"P": p, "N": n, "E": e, "Z": z, "D": f"{quote}{d}{quote}"}
        rows.append(sign.join(str(values[letter]) for letter in order))
    return "\n".join(rows) + "\n"


@pytest.mark.parametrize("sign", [",", ";", "\t"])
@pytest.mark.parametrize(
    ("order", "header"),
    [
        ("PNEZD", "point,northing,easting,elevation,description"),
        ("PENZD", "Pt No.,East,North,Elev,Code"),
        ("DZENP", "note,Z,X,Y,id"),
        ("NEZ", "N,E,Z"),
        ("ENZ", "x,y,z"),
        ("ZDNE", "Elevation (ft),Desc,Northing (ft),Easting (ft)"),
    ],
)
def test_header_names_columns_in_any_order(tmp_path, read, order, header, sign):
    path = write(tmp_path, lines(order, sign, header.replace(",", sign)), "survey.txt")
    survey = read(path)
    assert survey.xyz.tolist() == [list(place) for place in XYZ]
    assert survey.rows.tolist() == [2, 3, 4]
    if "P" in order:
        assert survey.names == ("101", "102", "BM1")
    else:
        assert survey.names == ("2", "3", "4")  # rows stand in for names
    if "D" in order:
        assert survey.descriptions == ("GS", "GS edge, north", "nail")


@pytest.mark.parametrize("order", ["PENZD", "NEZ", "XYZ", "NEZD", "PXYZ", "ENZ"])
@pytest.mark.parametrize("sign", [",", "  ", "\t", ";"])
def test_order_given_for_files_without_header(tmp_path, read, order, sign):
    letters = order.replace("X", "E").replace("Y", "N") if "X" in order else order
    path = write(tmp_path, lines(letters, sign))
    assert read(path, order=order).xyz.tolist() == [list(place) for place in XYZ]


def test_order_passes_over_columns(tmp_path, read):
    path = write(tmp_path, "7,x,5000.25,2000.5,9,100.125\n")
    assert read(path, order="P-NE-Z").xyz.tolist() == [[2000.5, 5000.25, 100.125]]


def test_pnezd_assumed_without_header_and_said(tmp_path, read):
    survey = read(write(tmp_path, lines("PNEZD", ",", quote="")))
    assert survey.xyz.tolist() == [list(place) for place in XYZ]
    assert survey.descriptions == ("GS", "GS edge,north", "nail")  # joined at the comma
    assert survey.notes == ("survey.csv: no header, read as PNEZD",)
    assert read(write(tmp_path, lines("PNEZ", ","))).names == ("101", "102", "BM1")


def test_descriptions_with_blanks_in_a_blank_parted_file(tmp_path, read):
    survey = read(write(tmp_path, "1 10.5 20.5 5.5 top of bank\n2 11.5 21.5 5.75\n"))
    assert survey.descriptions == ("top of bank", "")


def test_xyz_ending_says_easting_first(tmp_path, read):
    survey = read(write(tmp_path, "2000.5 5000.25 100.125\n2000 5010 100.5\n", "cloud.xyz"))
    assert survey.xyz[0].tolist() == [2000.5, 5000.25, 100.125]
    assert survey.notes == (
        "cloud.xyz: columns read as x, y, z (easting first), as its ending says",
    )


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_blank_lines_and_comments(tmp_path, read, end):
    text = end.join(
        ["# from the field book", "point,northing,easting,elevation", "", "1,10,20,5", ",,,", "",
         "# moved", "2,11,21,6", ""]
    )  # fmt: skip
    survey = read(write(tmp_path, text))
    assert survey.rows.tolist() == [4, 8]
    assert survey.xyz.tolist() == [[20, 10, 5], [21, 11, 6]]


def test_header_inside_the_first_comment(tmp_path, read):
    survey = read(write(tmp_path, "#point easting northing elev\n1 20 10 5\n2 21 11 6\n"))
    assert survey.xyz.tolist() == [[20, 10, 5], [21, 11, 6]]
    assert survey.rows.tolist() == [2, 3]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1", "cp1252"])
def test_encodings(tmp_path, read, encoding):
    text = "point,northing,easting,elevation,description\n1,10,20,5,café\n2,11,21,6,brow\n"
    survey = read(write(tmp_path, text.encode(encoding)))
    assert survey.descriptions == ("café", "brow")
    assert survey.xyz.tolist() == [[20, 10, 5], [21, 11, 6]]


def test_decimal_commas_when_told(tmp_path, read):
    path = write(tmp_path, "point;northing;easting;elevation\n1;10,5;20,25;5,125\n")
    assert read(path, decimal=",").xyz.tolist() == [[20.25, 10.5, 5.125]]


def test_fast_and_careful_parsers_agree(tmp_path, read):
    """A blank line sends the whole file down the careful way."""
    rng = random.Random(7)
    rows = [f"{i},{rng.uniform(0, 9e6)!r},{rng.uniform(0, 9e6)!r},{rng.uniform(1, 99)!r},\"a {i}\""
            for i in range(2000)]  # fmt: skip
    fast = read(write(tmp_path, "\n".join(rows) + "\n"))
    rows.insert(1000, "")
    careful = read(write(tmp_path, "\n".join(rows) + "\n"))
    assert (fast.xyz == careful.xyz).all()
    assert fast.names == careful.names
    assert fast.descriptions == careful.descriptions
    assert careful.rows[999:1001].tolist() == [1000, 1002]


def test_rows_counted_across_chunks(tmp_path, refusal, read):
    rows = ["1,10,20,5"] * 250_001
    rows[1] = ""
    assert read(write(tmp_path, "\n".join(rows) + "\n")).rows[-1] == 250_001
    rows[200_500] = "1,10,2O,5"
    assert refusal(write(tmp_path, "\n".join(rows) + "\n")) == (
        "survey.csv, row 200501, easting: '2O' is not a number; correct it"
    )


HEAD = "point,northing,easting,elevation,description\n"
BAD = [
    ("1,2,3\n4,5,6\n", {}, 'survey.csv, row 1: 3 columns without a header could stand in several '
     'orders; give order = "NEZ", "ENZ" or the like under [survey] in site.toml'),
    ("1.5,2,3,4\n", {}, 'survey.csv, row 1: 4 columns without a header could stand in several '
     'orders; give order = "NEZ", "ENZ" or the like under [survey] in site.toml'),
    ("10,20\n", {}, "survey.csv, row 1: the first row has 2 fields; give a point, northing, "
     "easting and elevation in each row"),
    ("this is no survey at all\n", {}, "survey.csv, row 1: the header 'this, is, no, survey, at, "
     "all' does not name northing, easting and elevation; name them, or give order = \"PNEZD\" or "
     "the like under [survey] in site.toml"),
    ("point,northing,easting\n1,2,3\n", {}, "survey.csv, row 1: the header names no elevation; "
     "name the column that holds the elevation"),
    ("n,north,e,z\n1,2,3,4\n", {}, "survey.csv, row 1: the columns 'n' and 'north' both read as "
     "northing; rename one of them"),
    ("pt,northing [m],easting [m],elev [m]\n1,2,3,4\n", {}, "survey.csv, row 1: the column "
     "'northing [m]' is in m and the site in ft (international); convert the file, or correct "
     "units under [site] in site.toml"),
    (HEAD + "1,2,3,4,a\n", {"order": "PENZD"}, "survey.csv, row 1: the header names the columns in "
     'another order than [survey] order = "PENZD"; remove order from site.toml, or correct it'),
    ("1,2,3,4\n", {"order": "PNEQ"}, "site.toml, [survey] order: order = \"PNEQ\" holds 'Q'; use "
     "P, N, E, Z, D once each (X for E, Y for N, - to pass over a column)"),
    ("1,2,3,4\n", {"order": "NNEZ"}, 'site.toml, [survey] order: order = "NNEZ" holds two columns '
     "for the northing; use P, N, E, Z, D once each (X for E, Y for N, - to pass over a column)"),
    ("1,2,3,4\n", {"order": "PNE"}, 'site.toml, [survey] order: order = "PNE" has no elevation; '
     'name every column, as in "PNEZD"'),
    (HEAD, {}, "survey.csv: there is no shot below the header; export the points again"),
    (HEAD + "1,2,3,4,a\n2,3,4,,b\n", {}, "survey.csv, row 3, elevation: the field is empty; fill "
     "it or delete the row"),
    (HEAD + "1,2,3,4,a\n2,3,nan,5,b\n", {}, "survey.csv, row 3, easting: 'nan' is not a number; "
     "give the shot's number or delete the row"),
    (HEAD + "1,2,3,4,a\n2,3\n3,4,5,6,b\n", {}, "survey.csv, row 3: the row has 2 fields and no "
     "easting; fill the row or delete it"),
    (HEAD + "1,2,3,4,a\n2,3", {}, "survey.csv, row 3: the last row stops after 2 fields: the file "
     "is cut short; export it again, or end the row with a line end if it is whole"),
    (HEAD + "1,2,3,104.5,a\n2,3,4,10", {}, "survey.csv, row 3: the last row stops after 4 fields: "
     "the file is cut short; export it again, or end the row with a line end if it is whole"),
    (HEAD.replace(",", ";") + "1;2,5;3,5;4,5;a\n", {}, "survey.csv, row 2, easting: '3,5' has a "
     'decimal comma; add decimal = "," under [survey] in site.toml'),
    (HEAD + '1,"5,000.25",3,4,a\n', {}, "survey.csv, row 2, northing: '5,000.25' parts its "
     "thousands with commas; write it without them"),
    ("pt,lat,lon,z\n1,45°30'20.5\"N,122°40'10\"W,4\n", {}, "survey.csv, row 2, easting: "
     "'122°40'10\"W' is degrees, minutes and seconds; write decimal degrees or coordinates"),
    ("1,45-30-20.5,122-40-10,4,a\n", {}, "survey.csv, row 1, easting: '122-40-10' is degrees, "
     "minutes and seconds; write decimal degrees or coordinates"),
    (HEAD + '1,2,3,4,"open\n2,3,4,5,b\n', {}, "survey.csv, row 2: a quotation mark is not closed "
     'where its field ends; close it, or write an inch mark inside quotes as ""'),
    ("", {}, "survey.csv: the file is empty; fill it, or export it again"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "options", "line"), BAD)
def test_bad_files_are_refused_word_for_word(tmp_path, refusal, text, options, line):
    assert refusal(write(tmp_path, text), **options) == line


def zipped(name: str) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr(name, "something")
    return stream.getvalue()


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (zipped("xl/workbook.xml"), "a zip archive (or a spreadsheet, which is one inside)"),
        (b"%PDF-1.7\n%\xe2\xe3", "a PDF document"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 99, "an old spreadsheet or office document"),
        (b"\x1f\x8b\x08\x00", "a gzip archive"),
        (b"AC1032\0\0", "a DWG drawing"),
        (b"\x89PNG\r\n\x1a\n", "a PNG picture"),
    ],
)
def test_other_kinds_renamed_as_csv_are_named(tmp_path, refusal, content, kind):
    assert refusal(write(tmp_path, content)) == (
        f"survey.csv: it is {kind}, not text; export the points as CSV, LandXML, DXF or GeoJSON"
    )


def test_binary_and_huge_files_are_refused_at_once(tmp_path, refusal):
    garbage = write(tmp_path, random.Random(1).randbytes(5_000_000))
    start = time.perf_counter()
    assert refusal(garbage) == "survey.csv: this is not a text file; export it as text"
    huge = tmp_path / "huge.csv"
    with huge.open("wb") as stream:
        stream.truncate(3_000_000_000)  # sparse: nothing is written
    assert refusal(huge) == (
        "huge.csv: the file holds 3,000 MB and at most 200 MB is read; check that it is the right "
        "file"
    )
    assert time.perf_counter() - start < 5.0  # loose: it never reads what it refuses


@pytest.mark.parametrize(
    ("written", "unit", "site"),
    [
        ("ftUS", Unit.FOOT, "ft (international)"),
        ("US survey feet", Unit.FOOT, "ft (international)"),
        ("ift", Unit.SURVEY_FOOT, "US survey ft"),
        ("ft", Unit.METRE, "m"),
        ("m", Unit.SURVEY_FOOT, "US survey ft"),
    ],
)
def test_a_column_in_another_unit_is_refused(tmp_path, refusal, written, unit, site):
    path = tmp_path / "survey.csv"
    path.write_text(f"point,northing [{written}],easting,elevation\n1,5000,2000,100\n")
    assert refusal(path, unit) == (
        f"survey.csv, row 1: the column 'northing [{written}]' is in {written} and the site in "
        f"{site}; convert the file, or correct units under [site] in site.toml"
    )


@pytest.mark.parametrize(
    ("written", "unit"),
    [("ft", Unit.FOOT), ("ft", Unit.SURVEY_FOOT), ("US ft", Unit.SURVEY_FOOT), ("m", Unit.METRE)],
)
def test_a_column_in_the_sites_unit_is_read(tmp_path, read, written, unit):
    path = tmp_path / "survey.csv"
    path.write_text(f"point,northing ({written}),easting,elevation\n1,5000,2000,100\n")
    assert read(path, unit).xyz.tolist() == [[2000.0, 5000.0, 100.0]]


@pytest.mark.parametrize(
    ("head", "line"),
    [
        ("qwe;asd;x\n", "survey.csv, row 1: the header 'qwe, asd, x' does not name northing, "
         'easting and elevation; name them, or give order = "PNEZD" or the like under [survey] in '
         "site.toml"),
        ("# job 7\nN;E;Z\n", "survey.csv, row 3, easting: 'asd' is not a number; correct it"),
    ],
)  # fmt: skip
def test_a_large_file_of_garbage_is_refused_at_its_head(tmp_path, refusal, monkeypatch, head, line):
    path = tmp_path / "survey.csv"
    path.write_text(head + "qwe;asd;12 x\n" * 500_000)
    monkeypatch.setattr("dripfield.survey.read.survey_file.read_table", None)  # not read whole
    assert refusal(path) == line


def test_a_large_file_with_a_fault_below_its_head(tmp_path, refusal):
    path = tmp_path / "survey.csv"
    rows = "".join(f"{i},5000.0,{i}.0,100.0,ground shot\n" for i in range(200_000))
    path.write_text(f"point,northing,easting,elevation,description\n{rows}7,5000.0,x,100.0,\n")
    assert path.stat().st_size > 5_000_000
    assert refusal(path) == "survey.csv, row 200002, easting: 'x' is not a number; correct it"


def test_text_without_line_ends_is_refused(tmp_path, refusal):
    assert refusal(write(tmp_path, "12.5," * 4000)) == (
        "survey.csv, row 1: the row runs over 20,000 characters without a line end; export it "
        "again with a row for each point"
    )


def test_missing_file_and_folder(tmp_path, refusal):
    assert refusal(tmp_path) == f"{tmp_path.name}: this is a folder; name a file"
    assert refusal(tmp_path / "none.csv") == (
        f"none.csv: the file is missing; put it in {tmp_path} or correct its name"
    )


class TestNoReadings:
    ROWS = HEAD + "1,0,0,100.5,a\n2,0,9,101.5,b\n3,9,0,102.5,c\n4,9,9,{},d\n"

    @pytest.mark.parametrize("mark", [0, -9999, 9999, -99999, 99999, -32768])
    def test_asked_about(self, tmp_path, refusal, mark):
        assert refusal(write(tmp_path, self.ROWS.format(f"{mark}.00"))) == (
            f"survey.csv, row 5, elevation: the elevation of point 4 is {mark} where the others "
            'lie between 100.5 and 102.5: is it a reading?; write no_reading = "skip" or '
            'no_reading = "keep" under [survey] in site.toml'
        )

    def test_skipped_or_kept_as_told(self, tmp_path, read):
        path = write(tmp_path, self.ROWS.format("0.0"))
        skipped = read(path, no_reading="skip")
        assert skipped.names == ("1", "2", "3")
        assert skipped.rows.tolist() == [2, 3, 4]
        assert skipped.notes == (
            "survey.csv: 1 shot and 0 breaklines without a reading skipped, as no_reading says",
        )
        assert read(path, no_reading="keep").xyz[3].tolist() == [9, 9, 0]

    def test_blank_elevations_skipped_when_told(self, tmp_path, read):
        survey = read(write(tmp_path, self.ROWS.format("")), no_reading="skip")
        assert survey.names == ("1", "2", "3")
        assert survey.notes == (
            "survey.csv: 1 row without an elevation skipped, as no_reading says",
        )

    def test_zero_among_elevations_about_zero_is_a_reading(self, tmp_path, read):
        path = write(tmp_path, HEAD + "1,0,0,-0.5,a\n2,0,9,0,b\n3,9,0,0.75,c\n")
        assert read(path).xyz[:, 2].tolist() == [-0.5, 0, 0.75]

    def test_all_zero_is_asked_about(self, tmp_path, refusal):
        assert refusal(write(tmp_path, HEAD + "1,0,0,0,a\n2,0,9,0,b\n")) == (
            "survey.csv, row 2, elevation: every shot has the elevation 0; export the points with "
            'their elevations (or write no_reading = "keep" under [survey] in site.toml)'
        )


def test_large_coordinates_keep_every_digit(tmp_path, read):
    path = write(tmp_path, "1,1234567.8912,7654321.0123,100.125,GS\n")
    survey = read(path, Unit.SURVEY_FOOT)
    assert survey.xyz.dtype == np.float64
    assert survey.xyz.tolist() == [[7654321.0123, 1234567.8912, 100.125]]
