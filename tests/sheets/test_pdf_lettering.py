"""Lines of text in a PDF, against matplotlib's own drawing of the same, both read by PDFium."""

from __future__ import annotations

import io

import matplotlib
import pypdfium2
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from dripfield.sheets.kit import lettering, pdf_lettering

TEXTS = [
    "L12 101.53 ft",
    "set 101.53 at 12 ft (2.1)",
    "L12 101.53 ft",
    "\\ (31.5) 2",  # what a PDF's own strings must escape
    "offset of the first, fifth, affix flat",
    "first at 12",
    "1½ in × 3",
]
ANGLES = (0.0, 90.0, 33.0)


def _letters(own: bool, monkeypatch: pytest.MonkeyPatch) -> tuple[list[tuple], int]:
    """Every letter with the place of its box, and how many texts were written without shaping."""
    shown = []
    real = pdf_lettering.show
    with monkeypatch.context() as patch:

        def watched(*args: object) -> bool:
            shown.append(own and real(*args))
            return shown[-1]

        patch.setattr(pdf_lettering, "show", watched)
        figure = Figure(figsize=(6.0, 6.0))
        made: type[Text] = lettering.line_of_text()
        for k, text in enumerate(TEXTS * 2):
            for angle in ANGLES:
                figure.add_artist(
                    made(
                        *(0.1 + 0.25 * ANGLES.index(angle), 0.05 + 0.06 * k, text),
                        fontproperties=lettering.font(8.0, bold=k % 2 == 1),
                        rotation=angle,
                        rotation_mode="anchor",
                        verticalalignment="baseline",
                        color=(0.2, 0.4, 0.6),
                    )
                )
        file = io.BytesIO()
        with matplotlib.rc_context({"pdf.fonttype": 3}):
            figure.savefig(file, format="pdf")
    page = pypdfium2.PdfDocument(file.getvalue())[0]
    read = page.get_textpage()
    found = [(read.get_text_range(i, 1), *read.get_charbox(i)) for i in range(read.count_chars())]
    return [one for one in found if one[0].strip()], sum(shown)


def test_the_same_letters_at_the_same_places(monkeypatch: pytest.MonkeyPatch) -> None:
    got, written = _letters(True, monkeypatch)
    want, by_matplotlib = _letters(False, monkeypatch)
    assert by_matplotlib == 0
    # of 42 texts, 12 hold letters that are joined or no ASCII, and each face meets its letters once
    assert 18 <= written <= 30
    assert [one[0] for one in got] == [one[0] for one in want]
    for mine, theirs in zip(got, want, strict=True):
        # kerning is what differs: matplotlib moves a letter towards the one before it
        assert mine[1:] == pytest.approx(theirs[1:], abs=0.7)


def test_a_letter_never_met_is_left_to_matplotlib() -> None:
    figure = Figure()
    made = lettering.line_of_text()
    for k, text in enumerate(("abc", "abcd", "dcba", "naïve", "a\tb")):
        figure.add_artist(made(0.1, 0.1 + 0.1 * k, text, fontproperties=lettering.font(8.0)))
    file = io.BytesIO()
    with matplotlib.rc_context({"pdf.fonttype": 3}):
        figure.savefig(file, format="pdf")
    text = pypdfium2.PdfDocument(file.getvalue())[0].get_textpage().get_text_range()
    assert {"abc", "abcd", "dcba", "naïve"} <= set(text.split())


def test_other_kinds_of_typeface_are_left_to_matplotlib(monkeypatch: pytest.MonkeyPatch) -> None:
    figure = Figure()
    made = lettering.line_of_text()
    for k in range(3):
        figure.add_artist(made(0.1, 0.1 + 0.1 * k, "L12 ft", fontproperties=lettering.font(8.0)))
    answers = []
    real = pdf_lettering.show
    monkeypatch.setattr(
        pdf_lettering, "show", lambda *args: answers.append(real(*args)) or answers[-1]
    )
    for settings, kind in (({"pdf.fonttype": 42}, "pdf"), ({}, "png"), ({}, "svg")):
        with matplotlib.rc_context(settings):
            figure.savefig(io.BytesIO(), format=kind)
    assert answers == [False] * 9
