"""A real headless Chromium, driven over the WebDriver protocol, for tests of pages."""

from __future__ import annotations

import base64
import json
import re
import shutil
import subprocess
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
DRIVER = shutil.which("chromedriver")
PHONE, TABLET = (390, 844), (768, 1024)  # CSS pixels
ELEMENT = "element-6066-11e4-a52e-4f735466cecf"  # the W3C WebDriver element identifier


@contextmanager
def chromedriver() -> Iterator[str]:
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


class Browser:
    """A small WebDriver client: one session of a headless Chromium with a phone's screen."""

    def __init__(self, root: str, profile: Path | None = None) -> None:
        self.root = root
        options = {
            "binary": CHROMIUM,
            "args": [
                "--headless=new",
                "--no-sandbox",
                "--disable-gpu",
                "--disable-dev-shm-usage",
                *([f"--user-data-dir={profile}"] if profile else []),
            ],
        }
        wanted = {
            "browserName": "chrome",
            "goog:chromeOptions": options,
            "goog:loggingPrefs": {"performance": "ALL", "browser": "ALL"},
        }
        answer = self._send("POST", "/session", {"capabilities": {"alwaysMatch": wanted}})
        self.root = f"{root}/session/{answer['sessionId']}"
        self.size(*PHONE)

    def size(self, width: int, height: int) -> None:
        """Give the screen a size in CSS pixels, and a finger."""
        screen = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": True}
        self._command("Emulation.setDeviceMetricsOverride", screen)
        self._command("Emulation.setTouchEmulationEnabled", {"enabled": True})

    def network_off(self) -> None:
        """Take the network away, as out on a hillside."""
        off = {"offline": True, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0}
        self._command("Network.enable", {})
        self._command("Network.emulateNetworkConditions", off)

    def save_into(self, folder: Path) -> None:
        """Let downloads go into a folder."""
        where = {"behavior": "allow", "downloadPath": str(folder)}
        self._command("Browser.setDownloadBehavior", where)

    def enter(self, css: str, text: str) -> None:
        """Put a text into a field and leave it, as one that types does."""
        self.run(
            "const e = document.querySelector(arguments[0]); e.value = arguments[1];"
            "for (const kind of ['input', 'change'])"
            " e.dispatchEvent(new Event(kind, {bubbles: true}));",
            css,
            text,
        )

    def _command(self, name: str, values: dict[str, Any]) -> Any:
        return self._send("POST", "/goog/cdp/execute", {"cmd": name, "params": values})

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
        self.run(f"document.querySelector({css!r}).scrollIntoView({{block: 'center'}})")
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
