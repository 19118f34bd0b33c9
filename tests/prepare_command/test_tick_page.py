"""The list that is ticked on a phone, in a real browser: tapped, kept, saved, read back."""

from __future__ import annotations

import csv
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser import CHROMIUM, DRIVER, Browser, chromedriver
from click.testing import CliRunner

from dripfield.cli import main

SITE = Path(__file__).parents[2] / "sample_sites" / "sand_bed"

pytestmark = pytest.mark.skipif(
    not (CHROMIUM and DRIVER), reason="needs chromium and chromedriver on the path"
)


@pytest.fixture
def page() -> Iterator[Browser]:
    with chromedriver() as address:
        browser = Browser(address)
        yield browser
        browser.quit()


def prepare(out: Path, *more: str) -> None:
    result = CliRunner().invoke(main, ["prepare", str(SITE), "--out", str(out), *more])
    assert result.exit_code == 0, result.output


def states(out: Path) -> dict[str, str]:
    with (out / "readiness.csv").open(encoding="utf-8", newline="") as stream:
        return {row["item"]: row["state"] for row in csv.DictReader(stream)}


@pytest.mark.usefixtures("undrawn")
def test_ticks_outlive_a_reload_and_come_back_with_the_saved_file(
    page: Browser, tmp_path: Path
) -> None:
    out, saved = tmp_path / "out", tmp_path / "saved"
    saved.mkdir()
    prepare(out)
    items = list(states(out))
    page.open((out / "readiness.html").as_uri())
    page.save_into(saved)
    assert page.text("header p").endswith(f"2026-07-17. {len(items)} of {len(items)} open.")
    for row in (0, 3):
        page.click(f'[data-row="{row}"]')
    page.reload()
    assert page.text("#progress") == f"{len(items) - 2} of {len(items)} open."
    assert page.attribute('[data-row="3"]', "aria-pressed") == "true"
    assert page.run("return document.documentElement.scrollWidth <= innerWidth")
    page.click("#save")
    file = saved / "readiness.csv"
    for _ in range(100):
        if file.exists():
            break
        time.sleep(0.05)
    prepare(out, "--ticked", str(file))
    assert [item for item, state in states(out).items() if state == "done"] == [items[0], items[3]]
