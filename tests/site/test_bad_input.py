"""Every kind of bad input: one line that says what and where and how to mend it, exit code 2,
nothing written. The whole rendered text is compared."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from dripfield.cli import main

Spoil = Callable[[Path], None]


def replace(name: str, old: str, new: str) -> Spoil:
    def spoil(folder: Path) -> None:
        text = (folder / name).read_text()
        assert old in text
        (folder / name).write_text(text.replace(old, new, 1))

    return spoil


def write(name: str, content: str | bytes) -> Spoil:
    def spoil(folder: Path) -> None:
        data = content.encode() if isinstance(content, str) else content
        (folder / name).write_bytes(data)

    return spoil


def settings(extra: str, before: str = "[layout]") -> Spoil:
    return replace("site.toml", before, f"{extra}\n{before}")


def remove(name: str) -> Spoil:
    return lambda folder: (folder / name).unlink()


def make_folder(name: str) -> Spoil:
    return together(remove(name), lambda folder: (folder / name).mkdir())


def columns(name: str, change: Callable[[str, str], tuple[str, str]], header: bool = True) -> Spoil:
    """Change northing and easting of every row, and perhaps leave the header out."""

    def spoil(folder: Path) -> None:
        top, *lines = (folder / name).read_text().splitlines()
        at = 1 if name == "survey.csv" else 0
        rows = [line.split(",") for line in lines]
        for row in rows:
            row[at : at + 2] = change(*row[at : at + 2])
        text = "\n".join([top] * header + [",".join(row) for row in rows])
        (folder / name).write_text(text + "\n")

    return spoil


def swap(north: str, east: str) -> tuple[str, str]:
    return east, north


def to_metres(north: str, east: str) -> tuple[str, str]:
    return f"{float(north) * 0.3048:.3f}", f"{float(east) * 0.3048:.3f}"


def together(*spoils: Spoil) -> Spoil:
    def spoil(folder: Path) -> None:
        for one in spoils:
            one(folder)

    return spoil


def huge(name: str, head: bytes) -> Spoil:
    """500 MB that take no room on the disk."""

    def spoil(folder: Path) -> None:
        with (folder / name).open("wb") as stream:
            stream.write(head)
            stream.truncate(500_000_000)

    return spoil


def ring(*corners: tuple[float, float]) -> str:
    return "northing,easting\n" + "".join(f"{n},{e}\n" for n, e in corners)


def shots(*rows: tuple[float, float, float]) -> str:
    lines = [f"{i},{n},{e},{z},GS\n" for i, (n, e, z) in enumerate(rows, 1)]
    return "point,northing,easting,elevation,description\n" + "".join(lines)


SETBACK = '[[bed.setbacks]]\nname = "Well"\npoints = "rock.csv"\n'
AWAY = "the bed lies 4,073 ft away from the survey, and on it once they are swapped"
WRITE_HEADER = "write northing,easting as the first line"

CASES: dict[str, tuple[Spoil, str]] = {
    # files
    "no settings": (
        remove("site.toml"),
        'site: there is no site.toml in this folder; write one, or start with "dripfield new"',
    ),
    "survey missing": (
        remove("survey.csv"),
        "survey.csv: the file is missing; put it in {folder} or correct its name",
    ),
    "bed missing": (
        remove("bed.csv"),
        "bed.csv: the file is missing; put it in {folder} or correct its name",
    ),
    "keepout missing": (
        remove("rock.csv"),
        "rock.csv: the file is missing; put it in {folder} or correct its name",
    ),
    "settings empty": (
        write("site.toml", ""),
        "site.toml: the file is empty; fill it, or export it again",
    ),
    "survey empty": (
        write("survey.csv", ""),
        "survey.csv: the file is empty; fill it, or export it again",
    ),
    "bed blank": (
        write("bed.csv", "\n  \r\n"),
        "bed.csv: the file is empty; fill it, or export it again",
    ),
    "bed header alone": (
        write("bed.csv", "northing,easting\n"),
        "bed.csv: no points below the header; add a row for each point",
    ),
    "survey header alone": (
        write("survey.csv", shots()),
        "survey.csv: there is no shot below the header; export the points again",
    ),
    "folder for the bed": (make_folder("bed.csv"), "bed.csv: this is a folder; name a file"),
    "folder for the survey": (
        make_folder("survey.csv"),
        "survey.csv: this is a folder; name a file",
    ),
    "folder for the settings": (
        make_folder("site.toml"),
        "site.toml: this is a folder; name a file",
    ),
    "binary bed": (
        write("bed.csv", bytes(range(256))),
        "bed.csv: this is not a text file; export it as text",
    ),
    "pipe": (
        together(remove("bed.csv"), lambda folder: os.mkfifo(folder / "bed.csv")),
        "bed.csv: this is not a plain file; name a plain file",
    ),
    "500 MB survey": (
        huge("survey.csv", b"1,5000,2000,100,GS\n" * 10_000),
        "survey.csv: the file holds 500 MB and at most 200 MB is read; "
        "check that it is the right file",
    ),
    "500 MB bed": (
        huge("bed.csv", os.urandom(100_000)),
        "bed.csv: the file holds 500 MB and at most 20 MB is read; check that it is the right file",
    ),
    "500 MB settings": (
        huge("site.toml", b"# nothing\n"),
        "site.toml: the file holds 500 MB and at most 1 MB is read; "
        "check that it is the right file",
    ),
    "path that leaves": (
        replace("site.toml", '"bed.csv"', '"../bed.csv"'),
        "site.toml, [bed] boundary: '../bed.csv' leaves the site folder; "
        "copy the file into the site folder and name it there",
    ),
    "survey path that leaves": (
        replace("site.toml", '"survey.csv"', '"/etc/passwd"'),
        "site.toml, [survey] points: '/etc/passwd' leaves the site folder; "
        "copy the file into the site folder and name it there",
    ),
    "setback path that leaves": (
        settings('[[bed.setbacks]]\nname = "Well"\npoints = "../well.csv"\ndistance = 9'),
        "site.toml, [[bed.setbacks]] 1 points: '../well.csv' leaves the site folder; "
        "copy the file into the site folder and name it there",
    ),
    "empty path": (
        replace("site.toml", '["rock.csv"]', '["rock.csv", ""]'),
        "site.toml, [bed] keepouts 2: '' is not a file name; name a file in the site folder",
    ),
    "zero byte in a path": (
        replace("site.toml", '"bed.csv"', r'"bed\u0000.csv"'),
        r"site.toml, [bed] boundary: 'bed\x00.csv' is not a file name; "
        "name a file in the site folder",
    ),
    # rows and columns
    "bed with a column too many": (
        replace("bed.csv", "5020,2120", "5020,2120,7"),
        "bed.csv, row 3: 3 columns where the header has 2; give one value for each column",
    ),
    "bed with a column too few": (
        replace("bed.csv", "5020,2120", "5020"),
        "bed.csv, row 3: 1 column where the header has 2; give one value for each column",
    ),
    "survey row cut short": (
        replace("survey.csv", "2,5000.00,2020.00,100.00,GS", "2,5000.00"),
        "survey.csv, row 3: the row has 2 fields and no easting; fill the row or delete it",
    ),
    "survey of two columns": (
        write("survey.csv", "1,2\n3,4\n5,6\n"),
        "survey.csv, row 1: the first row has 2 fields; "
        "give a point, northing, easting and elevation in each row",
    ),
    "text in the bed": (
        replace("bed.csv", "2120", "east"),
        "bed.csv, row 3, easting: 'east' is not a number; correct it",
    ),
    "text in the survey": (
        replace("survey.csv", "2,5000.00,", "2,north,"),
        "survey.csv, row 3, northing: 'north' is not a number; correct it",
    ),
    "cell left empty": (
        replace("bed.csv", "2120", ""),
        "bed.csv, row 3, easting: the field is empty; fill it or delete the row",
    ),
    "NaN in the bed": (
        replace("bed.csv", "2120", "nan"),
        "bed.csv, row 3, easting: 'nan' is not a number; give the shot's number or delete the row",
    ),
    "number beyond all bounds": (
        replace("bed.csv", "2120", "1e999"),
        "bed.csv, row 3, easting: '1e999' is not a number; "
        "give the shot's number or delete the row",
    ),
    "infinity in the survey": (
        replace("survey.csv", "100.00", "-inf"),
        "survey.csv, row 2, elevation: '-inf' is not a number; "
        "give the shot's number or delete the row",
    ),
    "bed without a header": (
        write("bed.csv", "5020,2020\n5020,2120\n5080,2120\n"),
        f"bed.csv, row 1: there is no header row; {WRITE_HEADER}",
    ),
    "bed header of other names": (
        replace("bed.csv", "northing,easting", "a,northing"),
        f"bed.csv, row 1: the header has no column 'easting'; {WRITE_HEADER}",
    ),
    "bed header with a name twice": (
        replace("bed.csv", "northing,easting", "northing,N"),
        "bed.csv, row 1: the columns 'northing' and 'N' both read as northing; rename one of them",
    ),
    "survey header with a name twice": (
        replace("survey.csv", "point,northing", "northing,northing"),
        "survey.csv, row 1: the columns 'northing' and 'northing' both read as northing; "
        "rename one of them",
    ),
    "columns named in metres": (
        replace("bed.csv", "northing,easting", "Northing (m),Easting (m)"),
        "bed.csv, row 1: the column 'Easting (m)' is in m and the site in ft (international); "
        "convert the file, or correct units under [site] in site.toml",
    ),
    # swapped and mixed
    "bed swapped": (
        columns("bed.csv", swap),
        f"bed.csv: northing and easting look swapped: {AWAY}; "
        "correct the columns here (or those of survey.csv)",
    ),
    "survey swapped": (
        columns("survey.csv", swap),
        f"survey.csv: northing and easting look swapped: {AWAY}; "
        "correct the columns here (or those of bed.csv)",
    ),
    "survey swapped, no header and no keepout": (
        together(
            columns("survey.csv", swap, header=False), replace("site.toml", '["rock.csv"]', "[]")
        ),
        f"survey.csv: northing and easting look swapped: {AWAY}; "
        "correct the columns here (or those of bed.csv)",
    ),
    "bed swapped, no keepout": (
        together(columns("bed.csv", swap), replace("site.toml", '["rock.csv"]', "[]")),
        f"bed.csv: northing and easting look swapped: {AWAY}; "
        "correct the columns here (or those of survey.csv)",
    ),
    "keepout swapped": (
        columns("rock.csv", swap),
        "rock.csv: northing and easting look swapped: it lies 4,151 ft away from the bed, "
        "and near it once they are swapped; correct its columns",
    ),
    "setback swapped": (
        together(
            settings(SETBACK.replace("rock", "well") + "distance = 30"),
            write("well.csv", "northing,easting\n2070,5130\n"),
        ),
        "well.csv: northing and easting look swapped: it lies 4,215 ft away from the bed, "
        "and near it once they are swapped; correct its columns",
    ),
    "bed in metres": (
        columns("bed.csv", to_metres),
        "bed.csv: it and survey.csv look to be in different units: times 3.2808 the bed lies on "
        "the survey; write both in ft",
    ),
    "survey in metres": (
        columns("survey.csv", to_metres),
        "bed.csv: it and survey.csv look to be in different units: times 0.3048 the bed lies on "
        "the survey; write both in ft",
    ),
    # EPSG:32610 is UTM in metres, EPSG:2229 California zone 5 in US survey feet (EPSG registry)
    "reference system in metres": (
        settings('crs = "EPSG:32610"', "[survey]"),
        "site.toml, [site] units: the site's units are ft (international) and the coordinates of "
        "EPSG:32610 (WGS 84 / UTM zone 10N) are in m; correct units or crs",
    ),
    "reference system in the other foot": (
        settings('crs = "EPSG:2229"', "[survey]"),
        "site.toml, [site] units: the site's units are ft (international) and the coordinates of "
        "EPSG:2229 (NAD83 / California zone 5 (ftUS)) are in US survey ft (the two put a "
        "coordinate of 5,140 ft 0.01 ft apart); correct units or crs",
    ),
    "reference system in degrees": (
        settings('crs = "EPSG:4326"', "[survey]"),
        "site.toml, [site] crs: EPSG:4326 (WGS 84) is not a projected system; "
        "name the projected system of the site's coordinates",
    ),
    "reference system not known": (
        settings('crs = "EPSG:0"', "[survey]"),
        "site.toml, [site] crs: 'EPSG:0' is not a known coordinate system; "
        'give its code, as in crs = "EPSG:6559"',
    ),
    # geometry
    "two shots": (
        write("survey.csv", shots((5000, 2000, 100), (5140, 2140, 101))),
        "survey.csv: 2 shots at distinct places; a surface needs at least three, not on one line",
    ),
    "shots on a line": (
        write("survey.csv", shots(*((5000 + 20 * i, 2000 + 20 * i, 100 + i) for i in range(8)))),
        "survey.csv: all 8 shots lie on one line; "
        "a surface needs shots on both sides of it: take some off the line",
    ),
    "flat": (
        write(
            "survey.csv",
            shots(*((5000 + 20 * i, 2000 + 20 * j, 100) for i in range(8) for j in range(8))),
        ),
        "site.toml, [layout] method: the survey is flat over the bed (best-fit fall 0.000 %), so "
        'it has no contour direction; set method = "straight" and a bearing [degrees clockwise '
        "from grid north]",
    ),
    "bed that crosses itself": (
        write("bed.csv", ring((5020, 2020), (5080, 2120), (5020, 2120), (5080, 2020))),
        "bed.csv: the ring crosses itself near northing 5050.00, easting 2070.00; "
        "list the corners in order around the area",
    ),
    "bed that touches itself": (
        write(
            "bed.csv",
            ring(
                (5020, 2020), (5020, 2120), (5050, 2070), (5080, 2120), (5080, 2020), (5050, 2070)
            ),
        ),
        "bed.csv: the ring touches itself near northing 5050.00, easting 2070.00; "
        "list the corners in order around the area",
    ),
    "keepout that crosses itself": (
        write("rock.csv", ring((5040, 2060), (5050, 2070), (5040, 2070), (5050, 2060))),
        "rock.csv: the ring crosses itself near northing 5045.00, easting 2065.00; "
        "list the corners in order around the area",
    ),
    "bed of two corners": (
        write("bed.csv", ring((5020, 2020), (5080, 2120), (5080, 2120), (5020, 2020))),
        "bed.csv: a ring needs three different points and has 2; give every corner a row",
    ),
    "bed on a line": (
        write("bed.csv", ring((5020, 2020), (5040, 2040), (5080, 2080))),
        "bed.csv: all points lie on one line; give the corners of an area",
    ),
    "bed off the survey": (
        write("bed.csv", ring((6020, 2020), (6020, 2120), (6080, 2120), (6080, 2020))),
        "bed.csv: the bed lies outside the survey, 880 ft from it; "
        "check that it and survey.csv use the same coordinates, or survey the bed",
    ),
    "keepout over the whole bed": (
        write("rock.csv", ring((5010, 2010), (5010, 2130), (5090, 2130), (5090, 2010))),
        "rock.csv: the keepout with its clearance of 1 ft swallows the whole bed; "
        "check its corners",
    ),
    "setback over the whole bed": (
        settings(SETBACK + "distance = 500"),
        "rock.csv: the setback of 500 ft from 'Well' swallows the whole bed; "
        "check its place and its distance",
    ),
    "keepout and setback together": (
        together(
            write("rock.csv", ring((5010, 2010), (5010, 2070), (5090, 2070), (5090, 2010))),
            settings(SETBACK.replace("rock", "well") + "distance = 60"),
            write("well.csv", "northing,easting\n5050,2120\n"),
        ),
        "site.toml, [bed]: clearance, keepouts and setbacks together leave nothing of the bed; "
        "check their places and distances",
    ),
    "clearance over the whole bed": (
        replace("site.toml", "edge_clearance = 1.0", "edge_clearance = 30"),
        "site.toml, [layout] edge_clearance: 30 leaves nothing of the bed, which is 60 ft wide; "
        "give a smaller clearance",
    ),
    # settings
    "spacing of zero": (
        replace("site.toml", "spacing = 2.0", "spacing = 0"),
        "site.toml, [layout] spacing: 0 was found; give a number greater than 0",
    ),
    "spacing wider than the bed": (
        replace("site.toml", "spacing = 2.0", "spacing = 60.5"),
        "site.toml, [layout] spacing: 60.5 is wider than the bed, which is 60 ft wide; "
        "give a spacing in ft that fits the bed",
    ),
    "unknown key": (
        replace("site.toml", "edge_clearance", "edge_clearence"),
        "site.toml, [layout]: unknown key 'edge_clearence'; the closest known is 'edge_clearance'",
    ),
    "unknown table": (
        replace("site.toml", "[layout]", "[layuot]"),
        "site.toml: unknown table or key 'layuot'; the closest known is 'layout'",
    ),
    "key of another table": (
        replace("site.toml", "[layout]", '[layout]\ncrs = "EPSG:6559"'),
        "site.toml, [layout]: unknown key 'crs'; it belongs in [site]",
    ),
    "unknown key in a list of tables": (
        settings(SETBACK + "distence = 9"),
        "site.toml, [[bed.setbacks]] 1: unknown key 'distence'; the closest known is 'distance'",
    ),
    "key missing": (
        replace("site.toml", 'units = "ft"\n', ""),
        "site.toml, [site]: the key 'units' is missing; add it",
    ),
    "table missing": (
        lambda folder: (folder / "site.toml").write_text('[site]\nname = "A"\nunits = "m"\n'),
        "site.toml: the table [survey] is missing; add it with its keys",
    ),
    "NaN": (
        replace("site.toml", "spacing = 2.0", "spacing = nan"),
        "site.toml, [layout] spacing: nan is not a length or a number to work with; "
        "give a finite number, at most 1e9",
    ),
    "infinity": (
        replace("site.toml", "edge_clearance = 1.0", "max_length = +inf"),
        "site.toml, [layout] max_length: inf is not a length or a number to work with; "
        "give a finite number, at most 1e9",
    ),
    "text for a number": (
        replace("site.toml", "spacing = 2.0", 'spacing = "2 ft"'),
        "site.toml, [layout] spacing: '2 ft' was found; give a number",
    ),
    "true for a number": (
        replace("site.toml", "spacing = 2.0", "spacing = true"),
        "site.toml, [layout] spacing: true was found; give a number",
    ),
    "table for a number": (
        replace("site.toml", "spacing = 2.0", "spacing = { feet = 2 }"),
        "site.toml, [layout] spacing: a table was found; give a number",
    ),
    "text for a list": (
        replace("site.toml", '["rock.csv"]', '"rock.csv"'),
        "site.toml, [bed] keepouts: 'rock.csv' was found; give a list",
    ),
    "number in a list of names": (
        replace("site.toml", '["rock.csv"]', '["rock.csv", 3]'),
        "site.toml, [bed] keepouts 2: 3 was found; give text in quotes or a table",
    ),
    "unknown method": (
        replace("site.toml", '"contour"', '"contuor"'),
        "site.toml, [layout] method: 'contuor' was found; "
        'give one of "balanced", "contour", "offset", "straight"',
    ),
    "unknown unit": (
        replace("site.toml", 'units = "ft"', 'units = "feet"'),
        'site.toml, [site] units: \'feet\' was found; give one of "ft", "ftUS", "m"',
    ),
    "half a benchmark": (
        settings('[benchmark]\nname = "BM1"\nelevation = 100\nnorthing = 5000'),
        "site.toml, [benchmark]: the value is wrong; "
        "give the benchmark both a northing and an easting, or neither",
    ),
    "TOML syntax": (
        replace("site.toml", "spacing = 2.0", "spacing = 2.0 ft"),
        "site.toml, row 13: this is not TOML: expected newline or end of document after a "
        'statement; write key = value, text in "quotes"',
    ),
    "TOML key twice": (
        replace("site.toml", "spacing = 2.0", "spacing = 2.0\nspacing = 3.0"),
        "site.toml, row 14: this is not TOML: cannot overwrite a value; "
        "give each table and key once",
    ),
    "TOML cut short": (
        write("site.toml", '[site]\nname = "Pla'),
        "site.toml, row 2: this is not TOML: unterminated string; "
        'write key = value, text in "quotes"',
    ),
}


@pytest.mark.parametrize(("spoil", "message"), CASES.values(), ids=CASES.keys())
def test_bad_input(folder: Path, spoil: Spoil, message: str) -> None:
    spoil(folder)
    before = sorted(path.name for path in folder.iterdir())
    out = folder.parent / "out"
    result = CliRunner().invoke(main, ["layout", str(folder), "--out", str(out)])
    assert result.stderr == f"error: {message.format(folder=folder)}\n"
    assert result.exit_code == 2
    assert result.stdout == ""
    assert sorted(path.name for path in folder.parent.iterdir()) == ["site"]
    assert sorted(path.name for path in folder.iterdir()) == before


def test_a_ring_of_millions_of_lines_is_refused_unread(folder: Path) -> None:
    (folder / "bed.csv").write_text("northing,easting\n" + "qwe asd\n" * 3_000_000)
    result = CliRunner().invoke(main, ["layout", str(folder), "--out", str(folder / "out")])
    assert result.exit_code == 2
    assert result.stderr == (
        "error: bed.csv: the file holds 24 MB and at most 20 MB is read; check that it is the "
        "right file\n"
    )


def test_no_such_folder(tmp_path: Path) -> None:
    result = CliRunner().invoke(main, ["layout", f"{tmp_path}/none", "--out", f"{tmp_path}/out"])
    assert result.stderr == (
        "error: none: there is no such folder; give the folder that holds site.toml\n"
    )
    assert result.exit_code == 2


def test_settings_file_in_place_of_its_folder(folder: Path) -> None:
    result = CliRunner().invoke(
        main, ["layout", str(folder / "site.toml"), "--out", str(folder / "out")]
    )
    assert result.stderr == (
        "error: site.toml: this is a file; give the folder that holds site.toml\n"
    )
    assert result.exit_code == 2


def test_file_that_may_not_be_read(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Permissions do not stop the administrator, whom tests may run as: the refusal is imitated."""
    opened = Path.open

    def refuse(path: Path, *args: object, **options: object) -> object:
        if path.name == "bed.csv":
            raise PermissionError(13, "Permission denied")
        return opened(path, *args, **options)  # type: ignore[arg-type, call-overload]

    monkeypatch.setattr(Path, "open", refuse)
    result = CliRunner().invoke(main, ["layout", str(folder), "--out", str(folder / "out")])
    assert result.stderr == (
        "error: bed.csv: the file may not be read; give yourself permission to read it\n"
    )
    assert result.exit_code == 2
    assert not (folder / "out").exists()
