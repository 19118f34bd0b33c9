"""Bad input of ``prepare``: one line that names file and key, exit 2, nothing written."""

from __future__ import annotations

from pathlib import Path

import pytest
from plane_site import make_site, run

TANK = (
    '[[tank]]\nname = "pump tank"\nshape = "rectangle"\nlength = 8.0\nwidth = 4.0\nheight = 5.0\n'
)
BOX = '[[enclosure]]\nname = "filter box"\nheight = 24.0\n'
PRICE = '[prepare]\ncurrency = "USD"\n[[prepare.prices]]\nmaterial = "flag"\nprice = 4.0\n'
TASKS = '[[day.tasks]]\ntask = "dig"\ncrew = "a"\nduration = {}\n{}'


@pytest.mark.parametrize(
    ("more", "line"),
    [
        (
            f"{TANK}top = 98.0\nriser_top = 97.0\n",
            "error: site.toml, [[tank]] riser_top: the riser of pump tank ends at 97.00 ft, below"
            " the tank's top at 98.00 ft; correct riser_top or top",
        ),
        (
            f"{BOX}stands_on = 98.0\ngrade = 97.0\n",
            "error: site.toml, [[enclosure]] grade: finished grade 97.00 ft lies below the base of"
            " the enclosure filter box, 98.00 ft without blocks; correct grade, stands_on or stone",
        ),
        (
            TASKS.format(-1.0, ""),
            "error: site.toml, [[day.tasks]] duration: dig lasts -1 h; give a duration of zero or"
            " more hours",
        ),
        (
            TASKS.format(1.0, 'after = ["dig"]\n'),
            "error: site.toml, [[day.tasks]] after: tasks wait for each other: dig after dig; take"
            " one out of the other's after",
        ),
        (
            '[[prepare.stock]]\nmaterial = "sandd"\n',
            "error: site.toml, [[prepare.stock]] material: the take-off holds no material 'sandd';"
            " the closest in it is ",
        ),
        (
            f'{PRICE}unit = "bundle of 100"\ncurrency = "EUR"\n',
            "error: site.toml, [[prepare.prices]] currency: flag is priced in EUR, the list in USD;"
            " give every price in one currency",
        ),
        (
            f'{PRICE}unit = "m"\n',
            "error: site.toml, [[prepare.prices]] unit: the price of flag is for one 'm'; flag is"
            " sold as 'bundle of 100' and counted in 'each': price one of these",
        ),
        (
            "[prepare]\ncoils = [50.0]\n",
            "error: site.toml, [prepare] coils: L",
        ),
        (
            '[prepare]\nhouse = "new"\n',
            "error: site.toml, [prepare]: unknown key 'house'; the closest known is 'home'",
        ),
        (
            '[day]\ndate = "tomorrow"\n',
            "error: site.toml, [day] date: 'tomorrow' is no date; write it as 2026-06-12",
        ),
        (
            '[[prepare.lines]]\nname = "a"\nuse = "other"\nroute = "../a.csv"\npipe = "1 in"\n',
            "error: site.toml, [[prepare.lines]] 1 route: '../a.csv' leaves the site folder;",
        ),
    ],
)
def test_one_line_and_nothing_written(tmp_path: Path, more: str, line: str) -> None:
    site = make_site(tmp_path / "site", more)
    result = run("prepare", site, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert result.stderr.startswith(line), result.stderr
    assert result.stderr.count("\n") == 1
    assert not (tmp_path / "out").exists()


def test_a_ticked_list_that_is_none_is_refused_and_nothing_changed(
    plane: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "readiness.csv").write_text("a,b\n1,2\n")
    result = run("prepare", plane, "--out", out)
    assert result.exit_code == 2
    assert result.stderr.startswith("error: readiness.csv, row 1: the readiness list has no column")
    assert [path.name for path in out.iterdir()] == ["readiness.csv"]
    assert (out / "readiness.csv").read_text() == "a,b\n1,2\n"


def test_an_older_take_off_that_is_none_is_refused(plane: Path, tmp_path: Path) -> None:
    older = tmp_path / "older.csv"
    older.write_text("item,price\nflag,4\n")
    result = run("prepare", plane, "--out", tmp_path / "out", "--since", older)
    assert result.exit_code == 2
    assert result.stderr.startswith("error: older.csv: this is no take-off: it has no column")
