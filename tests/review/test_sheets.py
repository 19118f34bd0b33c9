"""How the sheets look where it can be said in numbers."""

from __future__ import annotations

import itertools

import pytest

from dripfield.review.read.labels import read_label
from dripfield.sheets.review.overlay import APPROVED, DESIGNED, LAID


def test_three_line_styles_differ_without_colour() -> None:
    """In dash pattern and in width, each from both others."""
    styles = (APPROVED, DESIGNED, LAID)
    assert len({str(one["ls"]) for one in styles}) == 3
    assert len({one["lw"] for one in styles}) == 3
    widths = sorted(one["lw"] for one in styles)
    assert all(b >= 1.5 * a for a, b in itertools.pairwise(widths))
    for one in styles:
        red, green, blue = (one["color"][k : k + 2] for k in (1, 3, 5))
        assert red == green == blue


@pytest.mark.parametrize(
    ("text", "name", "elevation", "length"),
    [
        ("L05  101.25", "L05", 101.25, None),
        ("A-L05", "A-L05", None, None),
        ("Lateral 5 EL 101.25 L=62.4'", "5", 101.25, 62.4),
        ("EL. 101.25", None, 101.25, None),
        ("L05 62.4 LF", "L05", None, 62.4),
        ("12", "12", None, None),
        ("101", None, None, None),
        ("101.25", None, None, None),
        ("EX. WELL", None, None, None),
        ('1" SCH 40', None, None, None),
        ("SEE SHEET 4", None, None, None),
    ],
)
def test_writing_beside_a_run(
    text: str, name: str | None, elevation: float | None, length: float | None
) -> None:
    found = read_label(text)
    assert found.name == name
    assert (found.elevation and found.elevation.value) == elevation
    assert (found.length and found.length.value) == length
