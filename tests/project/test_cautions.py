"""Each caution has one text, which every sheet takes, and it says what its source says."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

import pytest

from dripfield.core.cautions import CAUTIONS, Topic, caution, cautions

ROOT = Path(__file__).parents[2]
HOME = ROOT / "dripfield" / "core" / "cautions.py"
SHEETS = {
    "sheets/kit/plan_margin.py", "sheets/crew/first_page.py",
    "sheets/crew/phone.py", "sheets/crew/language.py", "sheets/bed/rake_sheet.py",
    "sheets/bed/section_sheet.py", "sheets/bed/section_dxf.py", "sheets/bed/write.py",
    "sheets/review/content.py",
}  # fmt: skip
CHECKLIST = ROOT / "dripfield" / "preparation" / "readiness.py"  # things to do, not cautions
OWN_WORDS = re.compile(
    r"\b811\b|buried utilities|cave.?in\b|competent person|never enter|confined.space|carry disease"
    r"|licensed electrician|overhead line|old tank",
    re.IGNORECASE,
)


def test_one_caution_a_topic_with_its_source() -> None:
    assert tuple(one.topic for one in CAUTIONS) == get_args(Topic)
    for one in CAUTIONS:
        assert one.source
        assert one.text.endswith(".")


def test_protection_from_cave_in_as_the_rule_has_it() -> None:
    """29 CFR 1926.652(a)(1): always, but for stable rock, or under 5 ft and no sign of cave-in."""
    text = caution("excavation")
    assert (
        "Protection from cave-in is always needed, except in stable rock, or under 5 ft (1.5 m) "
        "where a competent person finds no sign of cave-in." in text
    )
    assert "From 4 ft (1.2 m) deep a ladder or ramp must be within 25 ft" in text  # 1926.651(c)(2)


@pytest.mark.parametrize("suffix", [".py", ".md", ".html", ".js", ".toml"])
def test_the_wrong_exception_is_nowhere(suffix: str) -> None:
    """From 5 ft on, no competent person's finding does away with protection."""
    wrong = re.compile(r"from\s+5\s+ft[^.]{0,80}unless|finds\s+otherwise", re.IGNORECASE)
    for path in [*(ROOT / "dripfield").rglob(f"*{suffix}"), *ROOT.glob(f"*{suffix}")]:
        joined = re.sub(r'"\s*f?"', "", path.read_text(encoding="utf-8"))
        assert not wrong.search(joined), path


def test_nothing_else_in_the_package_words_a_caution() -> None:
    own = {
        str(path.relative_to(ROOT)): found[0]
        for path in (ROOT / "dripfield").rglob("*")
        if path.suffix in (".py", ".html", ".js", ".toml") and path not in (HOME, CHECKLIST)
        if (found := OWN_WORDS.search(path.read_text(encoding="utf-8")))
    }
    assert own == {}


def test_every_sheet_takes_its_cautions_from_there() -> None:
    users = {
        str(path.relative_to(ROOT / "dripfield"))
        for path in (ROOT / "dripfield").rglob("*.py")
        if "dripfield.core.cautions" in path.read_text(encoding="utf-8")
    }
    assert users >= SHEETS


def test_always_never_to_enter_a_tank_and_that_local_code_governs() -> None:
    for topic in get_args(Topic):
        said = cautions(topic)
        assert caution("tanks") in said
        assert caution(topic) in said
        assert said[-1] == caution("code")
    assert cautions() == tuple(one.text for one in CAUTIONS)
    assert caution("tanks").startswith("Never enter a tank")


def test_the_readme_says_the_same() -> None:
    text = " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())
    for said in cautions():
        assert said in text
