"""Ticks of the readiness list survive, whoever made them, and ``--status`` says what is open."""

from __future__ import annotations

import csv
import json
import re
from html import unescape
from pathlib import Path

import pytest
from plane_site import run

from dripfield.preparation.readiness_file import read_readiness


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def tick(path: Path, item: str, state: str, **more: str) -> None:
    found = rows(path)
    for row in found:
        if row["item"] == item:
            row.update({"state": state, **more})
    names = list(dict.fromkeys(name for row in found for name in row))
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, names, restval="")
        writer.writeheader()
        writer.writerows(found)


@pytest.fixture
def out(plane: Path, tmp_path: Path) -> Path:
    assert run("prepare", plane, "--out", tmp_path / "out").exit_code == 0
    return tmp_path / "out"


def test_a_tick_and_a_note_by_hand_survive(plane: Path, out: Path) -> None:
    tick(out / "readiness.csv", "water on site", "done", remark="truck at 6:30")
    assert run("prepare", plane, "--out", out).exit_code == 0
    row = next(row for row in rows(out / "readiness.csv") if row["item"] == "water on site")
    assert row["state"] == "done"
    assert row["remark"] == "truck at 6:30"


def test_status_says_what_is_open(plane: Path, out: Path) -> None:
    count = len(rows(out / "readiness.csv"))
    tick(out / "readiness.csv", "water on site", "x")
    said = run("prepare", plane, "--out", out, "--status").output
    assert said.startswith(f"{count - 1} of {count} open")
    assert "machine and operator on site (contractor)" in " ".join(said.split())
    assert "water on site" not in said
    for row in rows(out / "readiness.csv"):
        tick(out / "readiness.csv", row["item"], "done")
    said = run("prepare", plane, "--out", out, "--status").output
    assert said.startswith(f"ready: {count} of {count} done or not needed")


def page_data(page: str) -> dict[str, list[list[str]]]:
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', page, re.DOTALL)
    assert found is not None
    data: dict[str, list[list[str]]] = json.loads(found[1])
    return data


def test_a_list_ticked_on_the_page_is_read_back(plane: Path, out: Path, tmp_path: Path) -> None:
    """The page's data saved as its script saves it: the columns and rows of the file."""
    data = page_data((out / "readiness.html").read_text(encoding="utf-8"))
    item, state = data["columns"].index("item"), data["columns"].index("state")  # type: ignore[arg-type]
    for row in data["rows"]:
        row[state] = "done" if row[item] == "inspection booked" else row[state]
    saved = tmp_path / "saved.csv"
    with saved.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream, lineterminator="\n").writerows([data["columns"], *data["rows"]])
    tick(out / "readiness.csv", "water on site", "done")
    assert run("prepare", plane, "--out", out, "--ticked", saved).exit_code == 0
    states = {row["item"]: row["state"] for row in rows(out / "readiness.csv")}
    assert states["inspection booked"] == "done"
    assert states["water on site"] == "done"  # open on the page, ticked in the folder: kept
    tick(saved, "water on site", "not done")  # taken back on the page
    assert run("prepare", plane, "--out", out, "--ticked", saved).exit_code == 0
    states = {row["item"]: row["state"] for row in rows(out / "readiness.csv")}
    assert states["water on site"] == "not done"


def test_the_page_needs_nothing_else_and_has_a_button_for_every_row(out: Path) -> None:
    page = (out / "readiness.html").read_text(encoding="utf-8")
    assert not re.search(r"(?:src|href)=[\"']?(?:https?:)?//", page)
    assert "default-src 'none'" in page
    assert not re.search(r"@[a-z_]+@", page)
    made = [row.ready.item for row in read_readiness(out / "readiness.csv")]
    buttons = re.findall(r'data-row="\d+">(.*?)</button>', page)
    assert [unescape(one) for one in buttons] == made


def test_changes_since_the_last_take_off(plane: Path, out: Path) -> None:
    assert not (out / "changes.csv").exists()
    text = plane / "site.toml"
    text.write_text(text.read_text().replace("spacing = 3.0", "spacing = 2.0"))
    result = run("prepare", plane, "--out", out)
    assert "changed: tubing with emitters" in " ".join(result.output.split())
    (row,) = (one for one in rows(out / "changes.csv") if one["item"] == "tubing with emitters")
    assert row["why"].startswith("quantity ")
    assert run("prepare", plane, "--out", out).exit_code == 0
    assert rows(out / "changes.csv") == []
