"""The page for the phone, in a real headless Chromium driven over the WebDriver protocol."""

from __future__ import annotations

import base64
import functools
import hashlib
import http.server
import io
import json
import re
import shutil
import subprocess
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pypdf
import pytest

from dripfield.core.feet_inches import feet_inches
from dripfield.core.units import Unit
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.phone import phone_page, write_phone_page
from dripfield.site.schema.crew import Benchmark, CrewTable

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
DRIVER = shutil.which("chromedriver")
ELEMENT = "element-6066-11e4-a52e-4f735466cecf"  # the W3C WebDriver element identifier

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


# --- in the browser -------------------------------------------------------------------------------


class Browser:
    """A small WebDriver client: one session of a headless Chromium with a phone's screen."""

    def __init__(self, root: str, width: int = 390, height: int = 844) -> None:
        self.root = root
        options = {
            "binary": CHROMIUM,
            "args": ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"],
            "mobileEmulation": {
                "deviceMetrics": {"width": width, "height": height, "pixelRatio": 2, "touch": True}
            },
        }
        wanted = {
            "browserName": "chrome",
            "goog:chromeOptions": options,
            "goog:loggingPrefs": {"performance": "ALL", "browser": "ALL"},
        }
        answer = self._send("POST", "/session", {"capabilities": {"alwaysMatch": wanted}})
        self.root = f"{root}/session/{answer['sessionId']}"

    def _send(self, method: str, path: str, body: Any = None) -> Any:
        content = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(
            self.root + path, content, {"Content-Type": "application/json"}, method=method
        )
        try:
            with urllib.request.urlopen(request, timeout=60) as answer:
                return json.load(answer)["value"]
        except urllib.error.HTTPError as problem:
            raise AssertionError(problem.read().decode()[:600]) from None

    def open(self, url: str) -> None:
        self._send("POST", "/url", {"url": url})

    def reload(self) -> None:
        self._send("POST", "/refresh", {})

    def run(self, script: str, *arguments: Any) -> Any:
        return self._send("POST", "/execute/sync", {"script": script, "args": list(arguments)})

    def log(self, kind: str) -> list[dict[str, Any]]:
        return self._send("POST", "/se/log", {"type": kind})

    def find(self, css: str) -> str:
        found = self._send("POST", "/element", {"using": "css selector", "value": css})
        return f"/element/{found[ELEMENT]}"

    def text(self, css: str) -> str:
        return self._send("GET", self.find(css) + "/text")

    def attribute(self, css: str, name: str) -> str | None:
        return self._send("GET", f"{self.find(css)}/attribute/{name}")

    def value(self, css: str) -> str:
        return self._send("GET", f"{self.find(css)}/property/value")

    def click(self, css: str) -> None:
        self._send("POST", self.find(css) + "/click", {})

    def type(self, css: str, text: str) -> None:
        element = self.find(css)
        self._send("POST", element + "/clear", {})
        self._send("POST", element + "/value", {"text": text})

    def role(self, css: str) -> str:
        return self._send("GET", self.find(css) + "/computedrole")

    def label(self, css: str) -> str:
        return self._send("GET", self.find(css) + "/computedlabel")

    def press(self, *keys: str) -> None:
        actions = [{"type": kind, "value": k} for k in keys for kind in ("keyDown", "keyUp")]
        self._act({"type": "key", "id": "keys", "actions": actions})

    def touch(self, *fingers: list[tuple[float, float]]) -> None:
        """Put fingers down at their first places, move them through the others, lift them."""
        self._act(
            *(
                {
                    "type": "pointer",
                    "id": f"finger{i}",
                    "parameters": {"pointerType": "touch"},
                    "actions": [
                        _move(places[0], 0),
                        {"type": "pointerDown", "button": 0},
                        *(_move(place, 50) for place in places[1:]),
                        *({"type": "pause", "duration": 20} for _ in range(i)),
                        {"type": "pointerUp", "button": 0},
                    ],
                }
                for i, places in enumerate(fingers)
            )
        )

    def _act(self, *sources: dict[str, Any]) -> None:
        self._send("POST", "/actions", {"actions": list(sources)})
        self._send("DELETE", "/actions")

    def printed(self) -> bytes:
        letter = {"page": {"width": 21.59, "height": 27.94}}
        return base64.b64decode(self._send("POST", "/print", letter))

    def accept(self) -> None:
        self._send("POST", "/alert/accept", {})

    def quit(self) -> None:
        self._send("DELETE", "")


def _move(place: tuple[float, float], duration: int) -> dict[str, Any]:
    x, y = (round(value) for value in place)
    return {"type": "pointerMove", "duration": duration, "x": x, "y": y, "origin": "viewport"}


@pytest.fixture(scope="module")
def driver() -> Iterator[str]:
    """A running chromedriver; yields its address."""
    process = subprocess.Popen(
        [DRIVER, "--port=0"], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    try:
        port = None
        for line in process.stdout:
            if found := re.search(r"started successfully on port (\d+)", line):
                port = found[1]
                break
        assert port, "chromedriver said no port"
        yield f"http://127.0.0.1:{port}"
    finally:
        process.terminate()
        process.wait(10)
        process.stdout.close()


class _Counting(http.server.SimpleHTTPRequestHandler):
    """Serves a folder and remembers what was asked for."""

    asked: list[str]

    def log_message(self, *_: Any) -> None:
        self.asked.append(self.path)


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
    """Write a page under a name of its own and open it."""
    folder, address, _ = site_server

    def opened(work: CrewWork) -> Browser:
        name = re.sub(r"\W", "_", request.node.name) + ".html"
        write_phone_page(folder / name, work)
        browser.open(f"{address}/{name}")
        browser.run("localStorage.clear()")
        browser.reload()
        return browser

    return opened


@in_browser
def test_typing_benchmark_and_backsight_updates_every_reading(
    plane: Any, show: Any, benched: Any
) -> None:
    """Hand-derived: 103.20 + 4.25 = 107.45; the highest lateral, 101.52, reads 5.93."""
    page = show(benched(plane))
    assert page.text("#laterals tbody tr:first-child .reading") == "backsight + 1.68"
    page.type("#backsight", "4.25")
    assert page.text("#height") == "107.45 ft 107'-5 3/8\""
    rows = page.run(
        "return [...document.querySelectorAll('#laterals tbody tr')]"
        ".map(r => [r.cells[3].textContent, r.querySelector('.rod').textContent])"
    )
    assert len(rows) == 10
    for elevation, rod in rows:
        assert float(rod) == pytest.approx(107.45 - float(elevation), abs=1e-9)
    assert rows[0] == ["101.52", "5.93"]
    page.type("#mark", "103.30")
    assert page.text("#laterals tbody tr:first-child .rod") == "6.03"


@in_browser
@pytest.mark.parametrize(
    ("text", "feet"),
    [
        ("4.25", 4.25), ("4,25", 4.25), ("4' 3\"", 4.25), ("4-3", 4.25), ("4 3", 4.25),
        ("4'-3 1/2\"", 4 + 3.5 / 12), ("4 3 3/8", 4 + 3.375 / 12), ("4' 3/8\"", 4 + 0.375 / 12),
        ("4′ 3″", 4.25), (".5", 0.5),
    ],
)  # fmt: skip
def test_entries_in_feet_and_inches(
    plane: Any, show: Any, text: str, feet: float, benched: Any
) -> None:
    page = show(benched(plane))
    page.type("#backsight", text)
    assert page.text("#height").split()[0] == f"{103.2 + feet:.2f}"
    assert page.text("#height").split(maxsplit=2)[2] == feet_inches(103.2 + feet)


@in_browser
@pytest.mark.parametrize("text", ["four", "4'13\"", "-1", "13.5", "4 3/0 x", "1e3"])
def test_entries_that_are_no_reading_are_marked(
    plane: Any, show: Any, text: str, benched: Any
) -> None:
    page = show(benched(plane))
    page.type("#backsight", text)
    assert page.attribute("#backsight", "aria-invalid") == "true"
    assert page.text("#height") == "not set"


@in_browser
def test_readings_off_the_rod_say_so_and_a_turning_point_moves_the_laser(
    plane: Any, show: Any, benched: Any
) -> None:
    """Hand-derived: from 103.20 + 0.10 the rod of 2 ft reaches down to 101.30.

    A turning point read at 1.80 lies at 101.50; read again at 0.20 the beam is at 101.70.
    """
    page = show(benched(plane, crew=CrewTable(rod_length=2.0)))
    page.type("#backsight", "0.10")
    assert page.text("#laterals tbody tr:first-child .rod") == "1.78"
    assert page.text("#laterals tbody tr:last-child .reading") == "off the rod: move the laser down"
    page.run("document.querySelector('details').open = true")
    page.type("#foresight", "1.80")
    page.click("#turn")
    assert page.value("#mark") == "101.50"
    assert page.text("#mark-name") == "the turning point"
    page.type("#backsight", "0.20")
    assert page.text("#laterals tbody tr:first-child .rod") == "0.18"
    page.reload()
    assert page.text("#mark-name") == "the turning point"
    assert page.text("#laterals tbody tr:first-child .rod") == "0.18"
    page.run("document.querySelector('details').open = true")
    page.click("#restart")
    assert page.value("#mark") == "103.20"


def _on_line(page: Browser, number: int, share: float = 0.3) -> tuple[float, float]:
    """A place on the screen on a lateral of the plan (away from its name in the middle)."""
    page.run("history.scrollRestoration = 'manual'")
    page.run("document.querySelector('#plan').scrollIntoView({block: 'center'})")
    time.sleep(0.1)  # a reload puts the old scroll place back a moment later
    x, y = page.run(
        """
        const line = document.querySelectorAll('#plan .lateral')[arguments[0]];
        const p = line.getPointAtLength(line.getTotalLength() * arguments[1]);
        const q = p.matrixTransform(line.getScreenCTM());
        return [q.x, q.y];
        """,
        number,
        share,
    )
    return x, y


@in_browser
def test_tapping_a_lateral_shows_its_row(plane: Any, show: Any, benched: Any) -> None:
    page = show(benched(plane))
    page.type("#backsight", "4.25")
    page.touch([_on_line(page, 6)])
    assert page.text("#chosen").startswith("L07: rod\n6.89 ft")
    assert page.run("return document.querySelector('tr.chosen th').textContent") == "L07"
    assert "flags A right at 12.0 ft; A left at 12.0 ft" in page.text("#chosen")


@in_browser
def test_ticks_outlive_a_reload(plane: Any, show: Any, benched: Any) -> None:
    page = show(benched(plane))
    page.type("#backsight", "4.25")
    page.click("#laterals tbody tr:nth-child(2) .tick")
    page.touch([_on_line(page, 4)])
    page.click("#tick-chosen")
    assert page.text("#progress") == "2 of 10 laterals staked."
    page.reload()
    assert page.text("#progress") == "2 of 10 laterals staked."
    pressed = page.run(
        "return [...document.querySelectorAll('.tick')].map(t => t.getAttribute('aria-pressed'))"
    )
    assert [i for i, value in enumerate(pressed) if value == "true"] == [1, 4]
    assert page.run("return document.querySelectorAll('.lateral.staked').length") == 2
    assert page.value("#backsight") == "4.25"
    page.click("#laterals tbody tr:nth-child(2) .tick")
    assert page.text("#progress") == "1 of 10 laterals staked."
    page.click("#clear")
    page.accept()
    page.reload()
    assert page.text("#progress") == "0 of 10 laterals staked."


def _view(page: Browser) -> list[float]:
    text = page.attribute("#plan svg", "viewBox")
    return [float(value) for value in text.split()]


@in_browser
def test_one_finger_pans_and_two_fingers_zoom(
    plane: Any, driver: str, tmp_path: Path, benched: Any
) -> None:
    write_phone_page(tmp_path / "phone.html", benched(plane))
    page = Browser(driver)  # its own: chromedriver loses the touch that follows two fingers
    try:
        page.open((tmp_path / "phone.html").as_uri())
        x, y = _on_line(page, 4, 0.5)
        start = _view(page)
        page.touch([(x, y), (x + 40, y + 30), (x + 80, y + 60)])
        panned = _view(page)
        assert panned[2:] == start[2:]
        assert panned[0] < start[0]
        assert panned[1] < start[1]
        assert "Tap a lateral" in page.text("#chosen"), "a pan is no tap"
        page.touch([(x - 20, y), (x - 50, y), (x - 80, y)], [(x + 20, y), (x + 50, y), (x + 80, y)])
        zoomed = _view(page)
        # the fingers end four times as far apart as they began
        assert zoomed[2:] == pytest.approx([size / 4.0 for size in panned[2:]], rel=0.02)
        assert "Tap a lateral" in page.text("#chosen"), "a pinch is no tap"
        page.run("document.querySelector('#zoom-all').click()")
        assert _view(page) == start
    finally:
        page.quit()


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
    page.run("document.querySelector('#laterals .choose').focus()")
    page.press(space)
    assert page.text("#chosen").startswith("L01: rod")
    page.run("document.querySelector('#laterals .choose').focus()")
    page.press(tab, space)
    assert page.text("#progress") == "1 of 10 laterals staked."
    assert page.attribute("#laterals tbody tr:nth-child(2) .tick", "aria-pressed") == "true"
    outline = page.run("return getComputedStyle(document.activeElement).outlineStyle")
    assert outline == "solid"


@in_browser
def test_a_screen_reader_finds_names_and_roles(plane: Any, show: Any, benched: Any) -> None:
    page = show(benched(plane))
    assert page.label("#mark") == "Elevation of BM 1"
    assert page.label("#backsight") == "Backsight: rod read on it"
    assert page.label("#laterals tbody tr:first-child .tick") == "staked L01"
    assert page.role("#laterals tbody tr:first-child th") == "rowheader"
    assert page.label("#zoom-in") == "Zoom in"
    assert page.label("#plan svg").startswith("Plan of 10 laterals, north up.")
    for css in ("#height", "#progress", "#chosen"):
        assert page.attribute(css, "aria-live") == "polite"


@in_browser
def test_targets_fit_a_glove_and_nothing_is_wider_than_the_phone(
    awkward: Any, show: Any, benched: Any
) -> None:
    """44 CSS pixels is the least target size of WCAG 2.1, success criterion 2.5.5."""
    page = show(benched(awkward))
    small = page.run(
        "return [...document.querySelectorAll('button, input, summary')]"
        ".filter(e => e.offsetParent && (e.offsetWidth < 44 || e.offsetHeight < 44))"
        ".map(e => e.id || e.className)"
    )
    assert small == []
    assert page.run("return document.documentElement.scrollWidth") == 390


@in_browser
def test_no_request_leaves_the_page(
    plane: Any, show: Any, site_server: tuple[Path, str, list[str]], benched: Any
) -> None:
    asked = site_server[2]
    browser = show(benched(plane))
    browser.log("performance")
    del asked[:]
    browser.reload()
    browser.type("#backsight", "4.25")
    browser.touch([_on_line(browser, 3)])
    browser.click("#tick-chosen")
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
    mark = Benchmark(name=name, elevation=103.2)
    page = show(benched(renamed(plane, name), name=name, benchmark=mark))
    assert page.run("return document.querySelector('h1').textContent") == name
    page.click("#laterals tbody tr:nth-child(3) .tick")
    page.click("#laterals tbody tr:nth-child(3) .choose")
    assert page.run("return document.querySelector('#chosen bdi').textContent") == f"{name} 2"
    assert page.run("return document.querySelectorAll('img').length") == 0
    page.reload()
    assert page.text("#progress") == "1 of 10 laterals staked."
    assert page.run("return document.documentElement.scrollWidth") == 390


@in_browser
def test_the_page_prints_with_its_readings(plane: Any, show: Any, benched: Any) -> None:
    page = show(benched(plane))
    page.type("#backsight", "4.25")
    reader = pypdf.PdfReader(io.BytesIO(page.printed()))
    text = " ".join(sheet.extract_text() for sheet in reader.pages)
    for printed in ("Upper Meadow", "107.45", "L07", "6.89", "6'-10 5/8\"", "Before digging"):
        assert printed in text
    for left_out in ("Whole bed", "Clear all ticks", "The laser moves"):
        assert left_out not in text


@in_browser
def test_metric_page(show: Any, hand: Any, benched: Any) -> None:
    """Hand-derived: 101.000 + 1.524 = 102.524 less 100.456 is 2.068."""
    mark = Benchmark(name="PM 1", elevation=101.0)
    work = benched(hand.plane(Unit.METRE), benchmark=mark)
    page = show(work)
    page.type("#backsight", "1.524")
    assert page.text("#height") == "102.524 m"
    assert page.text("#laterals tbody tr:first-child .reading") == "2.068"
    page.type("#backsight", "5' 2\"")
    assert page.attribute("#backsight", "aria-invalid") == "true"
