"""The page for the phone, in a real headless Chromium driven over the WebDriver protocol."""

from __future__ import annotations

import csv
import functools
import hashlib
import http.server
import io
import json
import math
import re
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pypdf
import pytest
from browser import CHROMIUM, DRIVER, PHONE, TABLET, Browser, chromedriver

from dripfield.core.cautions import cautions
from dripfield.core.errors import InputError
from dripfield.core.feet_inches import feet_inches
from dripfield.core.units import Unit
from dripfield.review.laid.record import make_record
from dripfield.review.model.limits import review_limits
from dripfield.review.read.shots import PRINTED_PLACE, read_laid_shots, sort_shots
from dripfield.sheets.crew import phone
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.phone import phone_page, write_phone_page
from dripfield.sheets.crew.phone_words import LANGUAGES, phrases
from dripfield.site.schema.crew import Benchmark, CrewTable
from dripfield.staking.field_settings import field_settings
from dripfield.staking.method import field_method

in_browser = pytest.mark.skipif(
    not (CHROMIUM and DRIVER), reason="needs chromium and chromedriver on the path"
)


# --- the file itself ------------------------------------------------------------------------------


class _Tags(HTMLParser):
    """Every tag with its attributes, and the visible text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text += data


def test_page_asks_for_nothing_else(plane: Any, benched: Any) -> None:
    page = phone_page(benched(plane))
    tags = _Tags(page).tags
    links = [
        value
        for _, attributes in tags
        for key, value in attributes.items()
        if key in {"src", "href", "action", "data", "srcset", "poster", "xlink:href"}
    ]
    assert links == ["data:,"]
    assert not re.search(r"@import|url\(|https?://(?!www\.w3\.org/2000/svg)", page)
    assert not [key for _, a in tags for key in a if key.startswith("on") or key == "style"]


def test_same_site_gives_the_same_page_and_a_changed_one_another_key(
    plane: Any, benched: Any
) -> None:
    def key(page: str) -> str:
        return re.search(r"dripfield:[0-9a-f]{24}", page)[0]

    low = benched(plane)
    high = benched(plane, benchmark=Benchmark(name="BM 2", elevation=103.2))
    first, again = phone_page(low), phone_page(low)
    assert hashlib.sha256(first.encode()).digest() == hashlib.sha256(again.encode()).digest()
    assert key(first) != key(phone_page(high))


def test_names_stay_names(plane: Any, benched: Any, names: dict[str, str], renamed: Any) -> None:
    quiet = _Tags(phone_page(benched(plane)))
    for name in names.values():
        mark = Benchmark(name=name, elevation=103.2)
        loud = _Tags(phone_page(benched(renamed(plane, name), name=name, benchmark=mark)))
        assert [tag for tag, _ in loud.tags] == [tag for tag, _ in quiet.tags]
        assert loud.text.count(" ".join(name.split())) > 20


def test_every_phrase_in_every_language_and_no_other() -> None:
    braces = re.compile(r"\{[a-z_]+\}")
    for key, said in phrases().items():
        assert tuple(said) == LANGUAGES, key
        assert len({frozenset(braces.findall(text)) for text in said.values()}) == 1, key
        assert all(said.values()), key
    folder = Path(phone.__file__).parent
    code = "".join(one.read_text() for one in sorted(folder.glob("page/phone.*")))
    code += "".join(one.read_text() for one in folder.glob("page/*.js"))
    code += "".join(one.read_text() for one in folder.glob("phone*.py"))
    unused = [
        key
        for key in phrases()
        if not re.search(rf"[\"'`=@]{key}[\"'`@]", code)
        and not key.startswith(
            ("log_", "how_", "by_", "misses_", "lengths_", "help_", "downhill", "uphill")
        )
    ]
    assert unused == []
    asked = re.findall(r"""(?:\bsay\(|data-(?:say|label)=|refuse\()["']([a-z_]+)["']""", code)
    assert len(asked) > 60
    assert set(asked) <= set(phrases())


def test_a_record_knows_that_places_are_those_printed(
    plane: Any, benched: Any, tmp_path: Path
) -> None:
    design = benched(plane).design
    table = tmp_path / "marks.csv"
    head = "point,northing,easting,elevation,description"
    rows = [
        f"1,7.0,10.0,100.58,L07 {PRINTED_PLACE}; rod 6.87",
        f"2,7.0,40.0,,L07 {PRINTED_PLACE}; set 2026-06-01T10:00:00-04:00",
        f'3,7.0,70.0,100.55,"L07 {PRINTED_PLACE}; rod 6.90; note: stone, dug out"',
    ]
    table.write_text("\r\n".join([head, *rows, ""]))
    survey = read_laid_shots(table, design.site)
    assert survey.names == ("1", "3")
    assert any("1 row without an elevation skipped" in note for note in survey.notes)
    record = make_record(design, survey, review_limits(design.site))
    assert any(said.startswith("place, length and spacing by 2 of 2") for said in record.unchecked)
    table.write_text("\n".join([head, *(row.replace(PRINTED_PLACE, "") for row in rows), ""]))
    with pytest.raises(InputError, match="elevation"):  # a survey's own blank is still refused
        read_laid_shots(table, design.site)


# --- in the browser -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def driver() -> Iterator[str]:
    """The address of a running chromedriver."""
    with chromedriver() as address:
        yield address


class _Counting(http.server.SimpleHTTPRequestHandler):
    """Serves a folder and remembers what was asked for."""

    asked: list[str]

    def log_message(self, *_: Any) -> None:
        self.asked.append(self.path)

    def end_headers(self) -> None:
        """Two pages of one name within a second are two pages."""
        self.send_header("Cache-Control", "no-store")
        super().end_headers()


@pytest.fixture(scope="module")
def site_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, str, list[str]]]:
    """A folder, the address it is served under, and the list of requests."""
    folder = tmp_path_factory.mktemp("phone")
    asked: list[str] = []
    handler = type("Handler", (_Counting,), {"asked": asked})
    make = functools.partial(handler, directory=str(folder))
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), make)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield folder, f"http://127.0.0.1:{server.server_port}", asked
    server.shutdown()
    server.server_close()


@pytest.fixture(scope="module")
def browser(driver: str) -> Iterator[Browser]:
    session = Browser(driver)
    yield session
    session.quit()


@pytest.fixture
def show(browser: Browser, site_server: tuple[Path, str, list[str]], request: Any) -> Any:
    """Write a page under a name of its own and open it with nothing kept."""
    folder, address, _ = site_server

    def opened(work: CrewWork) -> Browser:
        name = re.sub(r"\W", "_", request.node.name) + ".html"
        write_phone_page(folder / name, work)
        browser.size(*PHONE)
        browser.open(f"{address}/{name}")
        browser.run("localStorage.clear()")
        browser.reload()
        return browser

    return opened


_SET = """
const e = document.querySelector(arguments[0]);
const said = [];
for (const text of arguments[1]) {
  e.value = text;
  e.dispatchEvent(new Event("input", {bubbles: true}));
  said.push([document.querySelector("#height").textContent,
    document.querySelector(arguments[0] + "-echo").textContent, e.getAttribute("aria-invalid")]);
}
return said;
"""


def _cards(page: Browser, css: str) -> list[str]:
    """The text of one thing in every card."""
    return page.run(
        "return [...document.querySelectorAll(`#cards .card ${arguments[0]}`)]"
        ".map(e => e.textContent)",
        css,
    )


def _choose(page: Browser, name: str) -> None:
    page.run(
        "[...document.querySelectorAll('#laterals .choose')]"
        ".find(e => e.textContent === arguments[0]).click()",
        name,
    )


@in_browser
def test_backsight_gives_the_reading_of_every_mark(plane: Any, show: Any, benched: Any) -> None:
    """Hand-derived: 103.20 + 4.25 = 107.45; the highest lateral, at 101.52, reads 5.93."""
    page = show(benched(plane))
    _choose(page, "L01")
    assert set(_cards(page, ".expected")) == {"backsight + 1.68"}
    page.type("#backsight", "4.25")
    assert page.text("#height") == "107.45 ft (107'-5 3/8\")"
    assert page.text("#laser-now") == "Laser at 107.45 ft"
    assert set(_cards(page, ".expected .rod")) == {"5.93"}
    assert set(_cards(page, ".expected .band")) == {"5.85 to 6.01"}
    _choose(page, "L07")
    assert set(_cards(page, ".expected .rod")) == {"6.89"}
    assert set(_cards(page, ".expected .inches")) == {"6'-10 5/8\""}


@in_browser
def test_entries_in_feet_and_inches_are_echoed_as_read(plane: Any, show: Any, benched: Any) -> None:
    page = show(benched(plane))
    typed = {
        "4.25": 4.25, "4,25": 4.25, "4' 3\"": 4.25, "4-3": 4.25, "4 3": 4.25, "4ft 3in": 4.25,
        "4'-3 1/2\"": 4 + 3.5 / 12, "4 3 3/8": 4 + 3.375 / 12, "4' 3/8\"": 4 + 0.375 / 12,
        "4′ 3″": 4.25, ".5": 0.5, "5' 4 1/2\"": 5.375, "5.36 ft": 5.36, "5.36'": 5.36,
        "5’4½”": 5.375, "51 in": 4.25, "4 1/2\"": 0.375, "64 1/2 inches": 5.375, "0": 0.0,
        "5 FT. 4-1/2 IN.": 5.375, "48 1/2": 48.5 / 12,
    }  # fmt: skip
    said = page.run(_SET, "#backsight", list(typed))
    for (text, feet), (height, heard, invalid) in zip(typed.items(), said, strict=True):
        assert height == f"{103.2 + feet:.2f} ft ({feet_inches(103.2 + feet)})", text
        assert heard == f"= {feet:.2f} ft ({feet_inches(feet)})", text
        assert invalid is None


@in_browser
def test_what_is_no_reading_is_refused_in_a_sentence(plane: Any, show: Any, benched: Any) -> None:
    page = show(benched(plane))
    typed = {
        "four": "is no length", "4'13\"": "12 inches or more", "-1": "below 0",
        "13.5": "13.50 ft is off the rod, which reads 0 to 13.00 ft", "4 3/0 x": "is no length",
        "1e3": "is no length", "4' 3 3/7\"": "a fraction that no rod or tape shows",
        "4' 9/8\"": "a fraction that no rod", "1.6 m": "is metric and this site is in feet",
        "536": "Did you mean 5.36?", "5.36 4": "is no length",
        "<b>5</b>": "“<b>5</b>” is no length",
    }  # fmt: skip
    said = page.run(_SET, "#backsight", list(typed))
    for (text, sentence), (height, heard, invalid) in zip(typed.items(), said, strict=True):
        assert sentence in heard, text
        assert height == "not set", text
        assert invalid == "true", text


@in_browser
def test_what_can_be_read_in_two_ways_is_asked(plane: Any, show: Any, benched: Any) -> None:
    page = show(benched(plane))
    page.type("#backsight", "4 1/2")
    assert page.text("#backsight-echo .refusal") == "4 1/2 in or 4'-0 1/2\" or 4 1/2 ft?"
    assert page.text("#height") == "not set"
    page.click("#backsight-echo button:nth-of-type(2)")
    assert page.value("#backsight") == "4'-0 1/2\""
    assert page.text("#height").startswith(f"{103.2 + 4 + 0.5 / 12:.2f} ft")
    page.type("#backsight", "4 1/2")
    page.click("#backsight-echo button:nth-of-type(1)")
    assert page.text("#height").startswith("103.58 ft")  # 103.20 + 4.5 / 12 = 103.575


@in_browser
def test_a_benchmark_is_locked_and_a_changed_one_is_warned_of(
    plane: Any, show: Any, benched: Any
) -> None:
    """Hand-derived: 103.30 + 4.25 - 101.52 = 6.03."""
    page = show(benched(plane))
    page.type("#backsight", "4.25")
    assert page.run("return document.querySelector('#mark').readOnly")
    assert page.text("#lock") == "Locked: as the site file has it."
    page.click("#unlock")
    page.press(*"103.30", "\ue004")
    assert page.run("return document.querySelector('#mark').readOnly"), "locked again"
    warning = (
        "BM 1 is set to 103.30 ft; the site file says 103.20 ft."
        " Every rod reading moves by 0.10 ft (0'-1 1/4\")."
    )
    assert page.text("#changed") == warning
    _choose(page, "L01")
    assert set(_cards(page, ".expected .rod")) == {"6.03"}
    page.reload()
    assert page.text("#changed") == warning
    assert "BM 1 set to 103.30 ft" in page.text("#log")
    page.click("#restart")
    assert page.value("#mark") == "103.20"
    assert not page.text("#changed")
    page.click("#unlock")
    page.press(*"nonsense", "\ue004")
    assert page.value("#mark") == "103.20", "what is no elevation changes nothing"


@in_browser
def test_readings_off_the_rod_say_so_and_a_turning_point_moves_the_laser(
    plane: Any, show: Any, benched: Any
) -> None:
    """Hand-derived: from 103.20 + 0.10 the rod of 2 ft reaches down to 101.30.

    A turning point read at 1.80 lies at 101.50; read again at 0.20 the beam is at 101.70.
    """
    page = show(benched(plane, crew=CrewTable(rod_length=2.0)))
    page.type("#backsight", "0.10")
    _choose(page, "L01")
    assert set(_cards(page, ".expected .rod")) == {"1.78"}
    _choose(page, "L10")
    assert set(_cards(page, ".expected")) == {"off the rod: move the laser down"}
    page.run("document.querySelector('#moves').open = true")
    page.type("#closing", "0.11")
    assert "Closes within 0.01 ft" in page.text("#closing-echo")
    page.type("#closing", "0.2")
    assert "the laser has moved" in page.text("#closing-echo")
    page.type("#foresight", "1.80")
    page.click("#turn")
    assert page.value("#mark") == "101.50"
    assert page.text("#mark-name") == "the turning point"
    page.type("#backsight", "0.20")
    _choose(page, "L01")
    assert set(_cards(page, ".expected .rod")) == {"0.18"}
    page.reload()
    assert page.text("#mark-name") == "the turning point"
    assert set(_cards(page, ".expected .rod")) == {"0.18"}
    page.click("#restart")
    assert page.value("#mark") == "103.20"


@in_browser
def test_cards_say_how_and_from_where_in_the_order_of_work(
    plane: Any, show: Any, benched: Any
) -> None:
    """On straight parallel lines a gap is the difference in northing, a station that in easting."""
    work = benched(plane)
    page = show(work)
    order = list(work.field.of_lateral())
    names = page.run(
        "return [...document.querySelectorAll('#laterals .choose')].map(e => e.textContent)"
    )
    assert names == order
    seen = {}
    for name, marks in work.field.of_lateral().items():
        _choose(page, name)
        numbers = [int(text) for text in _cards(page, "h3 .number")]
        assert numbers == [mark.mark for mark in marks]
        assert page.text("#lateral-name") == name
        for mark, how in zip(marks, _cards(page, ".how-list"), strict=True):
            if mark.method == "gauge":
                (y, x, first) = seen[mark.above]
                gap, station = abs(mark.northing - y), abs(mark.easting - x)
                assert how.startswith(f"gap {gap:.2f}\u00a0ft (")
                assert f"{mark.side} of {mark.above}" in how
                assert re.search(rf"at {station:.2f}\u00a0ft \(.*\) along {mark.above} from", how)
                assert f"from its mark {first}" in how
            else:
                assert how == f"N {mark.northing:.2f}  E {mark.easting:.2f}"
        seen[name] = (marks[0].northing, marks[0].easting, marks[0].mark)
    assert page.text("#lateral-how").startswith("by stick from L")


@in_browser
def test_marks_by_two_tapes(plane: Any, show: Any, benched: Any) -> None:
    work = benched(plane)
    settings = replace(field_settings(work.design.ground), tool="tape")
    plan = field_method(work.design, settings)
    page = show(replace(work, field=plan))
    known = {point.name: point for point in plan.points}
    mark = plan.rows[0]
    assert mark.method == "tape"
    for name, line in zip((mark.point_1, mark.point_2), _cards(page, "li")[:2], strict=True):
        point = known[name]
        length = math.hypot(mark.easting - point.easting, mark.northing - point.northing)
        assert line.startswith(f"{length:.2f}\u00a0ft (")
        assert line.endswith(f"from {name}")


def _on_line(page: Browser, name: str, share: float = 0.3) -> tuple[float, float]:
    """A place on the screen on a lateral of the plan."""
    page.run("history.scrollRestoration = 'manual'")
    page.run("document.querySelector('#plan').scrollIntoView({block: 'center'})")
    time.sleep(0.1)  # a reload puts the old scroll place back a moment later
    x, y = page.run(
        """
        const at = [...document.querySelectorAll('#laterals .choose')]
          .findIndex(e => e.textContent === arguments[0]);
        const line = document.querySelectorAll('#plan .lateral')[at];
        const p = line.getPointAtLength(line.getTotalLength() * arguments[1]);
        const q = p.matrixTransform(line.getScreenCTM());
        return [q.x, q.y];
        """,
        name,
        share,
    )
    return x, y


@in_browser
def test_a_thumb_finds_a_lateral_within_22_pixels(plane: Any, show: Any, benched: Any) -> None:
    """44 CSS pixels is the least target size of WCAG 2.1, success criterion 2.5.5."""
    page = show(benched(plane))
    page.touch([_on_line(page, "L07")])
    assert page.text("#lateral-name") == "L07"
    assert page.run("return document.querySelector('tr.chosen th').textContent") == "L07"
    x, y = _on_line(page, "L10")
    page.touch([(x, y + 20)])
    assert page.text("#lateral-name") == "L10"
    page.touch([_on_line(page, "L05")])
    x, y = _on_line(page, "L10")
    page.touch([(x, y + 26)])
    assert page.text("#lateral-name") == "L05", "past the target nothing is chosen"


@in_browser
def test_next_previous_and_next_unmarked(plane: Any, show: Any, benched: Any) -> None:
    work = benched(plane)
    page = show(work)
    order = list(work.field.of_lateral())
    assert page.text("#lateral-name") == order[0]
    assert page.attribute("#previous", "disabled") == "true"
    page.click("#next")
    page.click("#next")
    assert page.text("#lateral-name") == order[2]
    page.click("#previous")
    assert page.text("#lateral-name") == order[1]
    page.click("#all-set")
    page.click("#next-unmarked")
    assert page.text("#lateral-name") == order[2]
    page.run("document.querySelector('#cards .tick').click()")
    page.click("#next-unmarked")
    assert page.text("#lateral-name") == order[2]
    assert page.run("return document.activeElement.closest('li').dataset.mark") == str(
        work.field.of_lateral()[order[2]][1].mark
    )
    _choose(page, order[-1])
    page.click("#all-set")
    page.click("#next-unmarked")
    assert page.text("#lateral-name") == order[0], "round to the beginning"


@in_browser
@pytest.mark.parametrize("size", [PHONE, TABLET], ids=["phone", "tablet"])
def test_fits_the_screen_and_the_hand(awkward: Any, show: Any, benched: Any, size: Any) -> None:
    """The head stays; targets of 44 pixels; nothing under 16 pixels; nothing wider than it."""
    page = show(benched(awkward))
    page.size(*size)
    page.type("#backsight", "4.25")
    page.enter("#read-0", "4 1/2")
    page.run("document.querySelector('#moves').open = true")
    small = page.run(
        "return [...document.querySelectorAll('button, input, summary')]"
        ".filter(e => e.offsetParent && (e.offsetWidth < 44 || e.offsetHeight < 44))"
        ".map(e => e.id || e.className)"
    )
    assert small == []
    fine = page.run(
        "return [...document.querySelectorAll('body *')].filter(e => e.offsetParent"
        " && [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())"
        " && parseFloat(getComputedStyle(e).fontSize) < 16).map(e => e.outerHTML.slice(0, 80))"
    )
    assert fine == []
    cut = page.run(
        "return [...document.querySelectorAll('button')].filter(e => e.offsetParent"
        " && e.scrollWidth > e.clientWidth).map(e => e.id || e.textContent)"
    )
    assert cut == []
    assert page.run("return document.documentElement.scrollWidth") == size[0]
    caution = page.run(
        "return [document.querySelector('#cautions').getBoundingClientRect().top + scrollY,"
        " document.querySelector('#cautions summary span').getClientRects().length,"
        " document.querySelector('#cautions li').checkVisibility()]"
    )
    assert caution == [0, 1, False]
    page.run("window.scrollTo(0, document.body.scrollHeight)")
    time.sleep(0.1)
    top, shown = page.run(
        "const r = document.querySelector('#lateral-name').getBoundingClientRect();"
        "return [document.querySelector('#head').getBoundingClientRect().top,"
        " document.elementFromPoint(r.x + 2, r.y + r.height / 2).id]"
    )
    assert (top, shown) == (0, "lateral-name")
    page.run("document.querySelector('#cautions').open = true; window.scrollTo(0, 0)")
    assert page.run("return document.querySelectorAll('#cautions li').length") == len(cautions())


@in_browser
def test_the_plan_has_base_line_benchmark_scale_and_fall(
    plane: Any, show: Any, benched: Any
) -> None:
    mark = Benchmark(name="BM 1", elevation=103.2, northing=30.0, easting=-20.0)
    page = show(benched(plane, benchmark=mark))
    for css in (".base", ".spot.bench", "#fall-here path", "#legend .fall path"):
        assert page.run(f"return document.querySelectorAll({css!r}).length") == 1, css
    assert "BM 1" in page.text(".name.point:not(.hidden)")
    assert page.text("#legend").startswith("N\nfall 8.0 %")
    turn = page.run("return document.querySelector('#legend .fall path').getAttribute('transform')")
    assert turn == "rotate(180)", "the plane falls to the south"
    for _ in range(2):
        length, scale, width = page.run(
            "const s = document.querySelector('#plan svg');"
            "return [parseFloat(document.querySelector('#bar-length').textContent),"
            " s.getScreenCTM().a, document.querySelector('#bar').getBoundingClientRect().width]"
        )
        assert width == pytest.approx(length * scale, abs=0.2)
        page.click("#zoom-in")
    page.click("#zoom-all")
    hidden = page.run(
        "const boxes = [...document.querySelectorAll('.name:not(.hidden)')]"
        ".map(e => e.getBoundingClientRect());"
        "return boxes.filter((a, i) => boxes.slice(i + 1).some(b => a.left < b.right - 1 &&"
        " b.left < a.right - 1 && a.top < b.bottom - 4 && b.top < a.bottom - 4)).length"
    )
    assert hidden == 0, "no name on another"
    far = Benchmark(name="BM 1", elevation=103.2, northing=60.0, easting=-20.0)
    page = show(benched(plane, benchmark=far))
    assert page.run("return document.querySelectorAll('.spot.bench').length") == 0
    # 20 to the west and 40 to the north of the bed's corner
    assert "BM 1 is 44.72 ft NW of the bed" in page.text(".plan .small")


@in_browser
def test_readings_ticks_and_notes_outlive_a_reload(plane: Any, show: Any, benched: Any) -> None:
    """Hand-derived: L07 lies at 100.56 and 107.45 - 6.80 is 100.65, 0.09 high."""
    page = show(benched(plane))
    page.type("#read-0", "6.8")
    assert "Give the backsight first" in page.text("#read-0-echo")
    page.type("#backsight", "4.25")
    _choose(page, "L07")
    page.type("#read-0", "6' 9 5/8\"")
    page.type("#read-1", "6.91")
    page.type("#note-1", "root, moved 0.2")
    page.click("#cards li:nth-child(2) .tick")
    first = "= 6.80 ft (6'-9 5/8\")\n0.09 ft (0'-1\") high: measure the mark again"
    assert page.text("#read-0-echo") == first
    assert page.text("#read-1-echo").endswith("0.02 ft (0'-0 1/4\") low: holds")
    kept = page.text("#log")
    assert "read 6.91 = 6.91 ft" in kept
    assert "note: root, moved 0.2" in kept
    assert re.search(r"\d\d-\d\d \d\d:\d\d +L07 \d+ set", kept)
    page.reload()
    assert page.text("#lateral-name") == "L07"
    assert page.text("#log") == kept
    assert page.value("#read-0") == "6' 9 5/8\""
    assert page.text("#read-0-echo") == first
    assert page.value("#note-1") == "root, moved 0.2"
    assert page.value("#backsight") == "4.25"
    assert page.text("#progress").startswith("1 of ")
    page.type("#backsight", "5.00")
    assert page.text("#read-0-echo") == first, "judged by the laser that it was read with"
    page.click("#clear")
    page.accept()
    page.reload()
    assert page.text("#progress").startswith("0 of ")
    assert page.value("#read-0") == ""
    assert "started again" in page.text("#log")


@in_browser
def test_what_is_kept_badly_does_no_harm(plane: Any, show: Any, benched: Any) -> None:
    page = show(benched(plane))
    key = page.run("return JSON.parse(document.querySelector('#data').textContent).key")
    for bad in (
        "nonsense", "null", '{"log": [null, 3, {"kind": "read", "mark": 1}], "lateral": 7}',
        '{"log": {"a": 1}, "language": "xx"}', '{"log": [{"kind": "toString"}]}',
    ):  # fmt: skip
        page.run("localStorage.setItem(arguments[0], arguments[1])", key, bad)
        page.reload()
        assert page.text("#progress").startswith("0 of "), bad
        page.run("document.querySelector('#cards .tick').click()")
        assert page.text("#progress").startswith("1 of "), bad


@in_browser
def test_the_saved_file_is_one_that_a_record_is_made_from(
    plane: Any, show: Any, benched: Any, tmp_path: Path
) -> None:
    """Hand-derived: 107.45 - 6.80 = 100.65 and 107.45 - 6.91 = 100.54."""
    work = benched(plane)
    page = show(work)
    page.type("#backsight", "4.25")
    _choose(page, "L07")
    page.type("#read-0", "6.80")
    page.type("#read-1", "6.91")
    page.type("#note-1", 'a "root", then; =2+2')
    page.click("#all-set")
    page.save_into(tmp_path)
    page.click("#save-csv")
    page.click("#save-json")
    for _ in range(50):
        time.sleep(0.1)
        names = sorted(one.suffix for one in tmp_path.iterdir())
        if names == [".csv", ".json"]:
            break
    assert names == [".csv", ".json"]
    (table,) = tmp_path.glob("Upper_Meadow_marks_*.csv")
    marks = work.field.of_lateral()["L07"]
    survey = read_laid_shots(table, work.design.site)
    shots = sort_shots(survey, work.design.site, work.design.layout)
    assert [(one.lateral, one.how) for one in shots] == [("L07", "named")] * 2
    assert [one.point for one in shots] == [str(one.mark) for one in marks[:2]]
    assert [one.xyz[2] for one in shots] == pytest.approx([100.65, 100.54])
    for shot, mark in zip(shots, marks, strict=False):
        assert shot.xyz[:2] == pytest.approx((mark.easting, mark.northing), abs=1e-9)
        assert shot.description.startswith(f"L07 {PRINTED_PLACE}; rod 6.")
    assert "note: a root then =2+2" in shots[1].description
    with table.open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert len(rows) == len(marks), "marks that were set and not read are there too"
    assert [row["elevation"] for row in rows[2:]] == [""] * (len(marks) - 2)
    record = make_record(work.design, survey, review_limits(work.design.site))
    assert any("only the height was measured" in said for said in record.unchecked)
    (log,) = tmp_path.glob("*.json")
    events = json.loads(log.read_text())["log"]
    assert [one["kind"] for one in events[:4]] == ["backsight", "read", "read", "note"]
    for one in events:
        assert abs(datetime.fromisoformat(one["time"]).timestamp() - time.time()) < 600
    page.click("#show-csv")
    assert page.value("#csv").replace("\r", "") == table.read_text().replace("\r", "")


def _view(page: Browser) -> list[float]:
    text = page.attribute("#plan svg", "viewBox")
    return [float(value) for value in text.split()]


@in_browser
def test_keyboard_alone_is_enough(plane: Any, show: Any, benched: Any) -> None:
    page = show(benched(plane))
    tab, space, right = "\ue004", "\ue00d", "\ue014"
    page.run("document.querySelector('#backsight').focus()")
    page.press(*"4.25")
    assert page.text("#height").startswith("107.45")
    page.run("document.querySelector('#plan svg').focus()")
    before = _view(page)
    page.press(right, "+")
    assert _view(page)[2] == pytest.approx(before[2] / 1.5)
    page.run("document.querySelector('#laterals tr:nth-child(3) .choose').focus()")
    page.press(space)
    name = page.run("return document.querySelectorAll('#laterals .choose')[2].textContent")
    assert page.text("#lateral-name") == name
    page.run("document.querySelector('#cards .tick').focus()")
    page.press(space, tab, *"6.9", tab, *"stone", tab)
    assert page.text("#progress").startswith("1 of ")
    assert "note: stone" in page.text("#log")
    outline = page.run("return getComputedStyle(document.activeElement).outlineStyle")
    assert outline == "solid"


@in_browser
def test_a_screen_reader_finds_names_and_roles(plane: Any, show: Any, benched: Any) -> None:
    page = show(benched(plane))
    assert page.label("#mark") == "Elevation of BM 1"
    assert page.label("#backsight") == "Backsight: rod read on it"
    number = page.text("#cards h3 .number")
    assert page.label("#cards .tick") == f"Set: mark {number}"
    assert page.label("#read-0") == "As read"
    assert page.label("#note-0") == "Note"
    assert page.role("#laterals tbody tr:first-child th") == "rowheader"
    assert page.label("#zoom-in") == "Zoom in"
    assert page.label("#plan svg").startswith("Plan of 10 laterals, north up.")
    for css in ("#height", "#progress", "#count", "#read-0-echo", "#backsight-echo"):
        assert page.attribute(css, "aria-live") == "polite"
    assert page.attribute("#changed", "role") == "alert"


@in_browser
def test_the_page_speaks_another_language(plane: Any, show: Any, benched: Any) -> None:
    page = show(benched(plane))
    page.click("#language")
    page.type("#backsight", "4 1/2")
    assert page.text("#backsight-echo .refusal") == "¿4 1/2 pulg o 4'-0 1/2\" o 4 1/2 ft?"
    page.reload()
    assert page.attribute("html", "lang") == "es"
    assert page.text("#next-unmarked") == "Sin marcar"
    assert page.text("#progress").endswith("marcas puestas.")
    left = page.run(
        "const said = Object.values(JSON.parse(document.querySelector('#data').textContent).words)"
        ".filter(w => w.en !== w.es && w.en.length > 6 && !w.en.includes('{')).map(w => w.en);"
        "const lines = document.body.innerText.split('\\n');"
        "return said.filter(text => lines.includes(text))"
    )
    assert left == ["English"]
    page.click("#language")
    assert page.text("#next-unmarked") == "Next unmarked"


@in_browser
def test_no_request_leaves_the_page(
    plane: Any, show: Any, site_server: tuple[Path, str, list[str]], benched: Any
) -> None:
    asked = site_server[2]
    browser = show(benched(plane))
    browser.log("performance")
    browser.log("browser")
    del asked[:]
    browser.reload()
    browser.type("#backsight", "4.25")
    browser.touch([_on_line(browser, "L04")])
    browser.click("#all-set")
    time.sleep(0.3)
    sent = [
        message["params"]["request"]["url"]
        for message in (
            json.loads(entry["message"])["message"] for entry in browser.log("performance")
        )
        if message["method"] == "Network.requestWillBeSent"
    ]
    assert len(asked) == 1
    assert [url for url in sent if not url.startswith("data:")] == [
        browser.run("return location.href")
    ]
    assert [e for e in browser.log("browser") if e["level"] == "SEVERE"] == []
    blocked = browser.run("return fetch('/other').then(() => 'went out', () => 'refused')")
    assert blocked == "refused", "the page's own policy must forbid requests"
    assert len(asked) == 1


@in_browser
@pytest.mark.parametrize("kind", ["markup", "right to left", "long"])
def test_hostile_names_do_nothing_in_the_browser(
    plane: Any, show: Any, benched: Any, names: dict[str, str], renamed: Any, kind: str
) -> None:
    name = names[kind]
    mark = Benchmark(name=name, elevation=103.2, northing=60.0, easting=-20.0)
    page = show(benched(renamed(plane, name), name=name, benchmark=mark))
    assert page.run("return document.querySelector('h1').textContent") == name
    page.run("document.querySelector('#laterals tbody tr:nth-child(3) .choose').click()")
    page.run("document.querySelector('#cards .tick').click()")
    chosen = page.run("return document.querySelector('#lateral-name').textContent")
    assert re.fullmatch(re.escape(name) + r" \d", chosen)
    assert page.run("return document.querySelectorAll('img').length") == 0
    page.reload()
    assert page.text("#progress").startswith("1 of ")
    assert page.run("return document.querySelector('#lateral-name').textContent") == chosen
    assert page.run("return document.documentElement.scrollWidth") == PHONE[0]


@in_browser
def test_the_page_prints_with_its_readings(plane: Any, show: Any, benched: Any) -> None:
    page = show(benched(plane))
    page.type("#backsight", "4.25")
    _choose(page, "L07")
    reader = pypdf.PdfReader(io.BytesIO(page.printed()))
    text = " ".join(sheet.extract_text() for sheet in reader.pages)
    for printed in ("Upper Meadow", "107.45", "L07", "6.89", "6'-10 5/8\"", "Before digging"):
        assert printed in text
    for left_out in ("Whole bed", "Start again", "The laser moves"):
        assert left_out not in text


@in_browser
def test_metric_page(show: Any, hand: Any, benched: Any) -> None:
    """Hand-derived: 101.000 + 1.524 = 102.524 less 100.456 is 2.068."""
    mark = Benchmark(name="PM 1", elevation=101.0, northing=18.0, easting=-6.0)
    page = show(benched(hand.plane(Unit.METRE), benchmark=mark))
    _choose(page, "L01")
    for text in ("1.524", "1,524", "152.4 cm", "1524 mm", "1.524 m"):
        page.type("#backsight", text)
        assert page.text("#height") == "102.524 m"
        assert set(_cards(page, ".expected .rod")) == {"2.068"}
    for text, sentence in {
        "5' 2\"": "this site is in metres",
        "1524": "Did you mean 1.524?",
    }.items():
        page.type("#backsight", text)
        assert page.attribute("#backsight", "aria-invalid") == "true"
        assert sentence in page.text("#backsight-echo")


@in_browser
def test_a_site_without_a_benchmark(plane: Any, show: Any, crew_work: Any) -> None:
    page = show(crew_work(plane))
    assert "no benchmark" in page.text("#lock")
    page.type("#mark", "103.2")
    page.type("#backsight", "4.25")
    _choose(page, "L01")
    assert set(_cards(page, ".expected .rod")) == {"5.93"}


@in_browser
def test_one_finger_pans_and_two_fingers_zoom(plane: Any, show: Any, benched: Any) -> None:
    """Last in the shared session: chromedriver loses the touch that follows two fingers."""
    page = show(benched(plane))
    before = page.text("#lateral-name")
    x, y = _on_line(page, "L09", 0.5)
    start = _view(page)
    page.touch([(x, y), (x + 40, y + 30), (x + 80, y + 60)])
    panned = _view(page)
    assert panned[2:] == start[2:]
    assert panned[0] < start[0]
    assert panned[1] < start[1]
    assert page.text("#lateral-name") == before, "a pan is no tap"
    page.touch([(x - 20, y), (x - 50, y), (x - 80, y)], [(x + 20, y), (x + 50, y), (x + 80, y)])
    zoomed = _view(page)
    # the fingers end four times as far apart as they began
    assert zoomed[2:] == pytest.approx([size / 4.0 for size in panned[2:]], rel=0.02)
    assert page.text("#lateral-name") == before, "a pinch is no tap"
    page.run("document.querySelector('#zoom-all').click()")
    assert _view(page) == start


@in_browser
def test_the_log_outlives_the_browser_without_a_network(
    plane: Any, driver: str, tmp_path: Path, benched: Any
) -> None:
    write_phone_page(tmp_path / "phone.html", benched(plane))
    said = []
    for size in (PHONE, TABLET):
        page = Browser(driver, tmp_path / "profile")
        try:
            page.network_off()
            page.size(*size)
            page.open((tmp_path / "phone.html").as_uri())
            if not said:
                page.type("#backsight", "4.25")
                _choose(page, "L07")
                page.type("#read-0", "6.88")
                page.click("#cards li:nth-child(1) .tick")
            said.append(
                [page.text(css) for css in ("#lateral-name", "#count", "#height", "#log")]
                + [page.value("#read-0"), page.text("#read-0-echo")]
            )
        finally:
            page.quit()
    assert said[0] == said[1]
    assert said[0][0] == "L07"
    assert said[0][4] == "6.88"
