"""What is shipped: files where they belong, no marks of trade, licences that let it be given on."""

from __future__ import annotations

import re
import subprocess
import tomllib
from importlib.metadata import PackageNotFoundError, distribution, metadata
from pathlib import Path
from typing import Any

import pytest

TOP = {
    ".ci",
    ".gitignore",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "dripfield",
    "notebooks",
    "pyproject.toml",
    "sample_sites",
    "tests",
}
GIVEN_ON_FREELY = re.compile(
    r"\b(MIT|BSD|Apache|ISC|MPL[- ]?2|Mozilla Public License 2|PSF|Python Software Foundation"
    r"|Unlicense|Zlib|HPND|matplotlib|CC0)",
    re.IGNORECASE,
)


@pytest.fixture(scope="module")
def shipped(root: Path) -> list[Path]:
    """Every file under version control; of an unpacked archive every file there is."""
    listing = subprocess.run(["git", "ls-files", "-z"], cwd=root, capture_output=True, check=False)
    if listing.returncode:
        pytest.skip("not a git checkout")
    names = listing.stdout.decode().split("\0")
    return [root / name for name in names if name and (root / name).exists()]


@pytest.fixture(scope="module")
def project(root: Path) -> dict[str, Any]:
    settings = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    return dict(settings["project"])


def test_the_top_level_is_tidy(shipped: list[Path], root: Path) -> None:
    assert {path.relative_to(root).parts[0] for path in shipped} == TOP


def test_no_marks_of_trade(shipped: list[Path]) -> None:
    marks = ["\N{REGISTERED SIGN}".encode(), "\N{TRADE MARK SIGN}".encode()]
    texts = {path: path.read_bytes() for path in shipped if path.suffix != ".png"}
    assert [path for path, text in texts.items() if any(mark in text for mark in marks)] == []


def test_files_are_small(shipped: list[Path]) -> None:
    assert [path for path in shipped if path.stat().st_size > 300_000] == []


def requirement_names(project: dict[str, Any]) -> set[str]:
    extras = [one for some in project["optional-dependencies"].values() for one in some]
    names = {re.match(r"[\w.-]+", one)[0] for one in [*project["dependencies"], *extras]}
    return names - {"dripfield"}


def licence(name: str) -> str:
    """What a package's own metadata, or the first line of the licence in it, says; empty when it is
    not installed."""
    try:
        told = metadata(name)
    except PackageNotFoundError:
        return ""
    said = distribution(name).read_text("licenses/LICENSE") or ""
    kinds = [line for line in told.get_all("Classifier") or [] if line.startswith("License")]
    return " ".join(
        [
            *(told.get("License-Expression") or "", *kinds, (told.get("License") or "")[:80]),
            said.partition("\n")[0],
        ]
    )


def test_what_it_runs_on_may_be_given_on_freely(project: dict[str, Any]) -> None:
    names = requirement_names({**project, "optional-dependencies": {}})
    names |= {"pyogrio", "laspy", "lazrs", "openpyxl"}
    wrong = {name: licence(name) for name in names if not GIVEN_ON_FREELY.search(licence(name))}
    assert wrong == {}


def test_developers_are_told_every_licence(project: dict[str, Any], root: Path) -> None:
    text = (root / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text[text.index("## Licences") :]
    missing = [name for name in requirement_names(project) if f"`{name}`" not in table]
    assert missing == []


def test_version_is_said_once_and_the_same(project: dict[str, Any]) -> None:
    import dripfield

    assert project["version"] == dripfield.__version__
