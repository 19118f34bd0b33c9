"""The first page: how the work goes, who does what, what to bring, when to stop, what can hurt."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from dripfield.core.cautions import CAUTIONS
from dripfield.core.feet_inches import decimal, feet_inches
from dripfield.core.words import joined, plain
from dripfield.crew.errors import CrewErrors
from dripfield.crew.say import percent
from dripfield.sheets.crew.code import draw_code
from dripfield.sheets.crew.flow import Piece, balanced, depth, draw_placed, pour
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.language import Say, say_caution, say_unit, speaking
from dripfield.sheets.crew.rod_sketch import HEIGHT, draw_sketch
from dripfield.sheets.crew.sheet import draw_check_bar, type_size
from dripfield.sheets.kit.page import Page, Rectangle, body
from dripfield.sheets.kit.style import DIM, INK, PENS, Paper, shorten, wrap, write_text
from dripfield.staking.marking import total
from dripfield.staking.model import FindablePoint
from dripfield.staking.points import permanent_pair

_TYPE = 8.5  # [pt]
_LEAST = 8.0  # [pt]
_GAP = 18.0  # between the columns [pt]
_TOP = 72.0  # name of the site, its facts and the code [pt]
_CODE = 66.0  # side of the code [pt]
_SIGN = 54.0  # signatures and the bar that checks the printer [pt]
_CLOSE = (0.02, 0.006)  # how near the benchmark must read again (common practice, no source)
_AGREE = (0.10, 0.03)  # how near check lengths must be (common practice, no source)


@dataclass(frozen=True)
class Lead:
    """What the first page had no more room for, to stand over what comes next.

    ``height`` is what it takes [pt]; ``draw`` takes axes, left and top.
    """

    height: float
    draw: Callable[[Any, float, float], None]


def first_pages(work: CrewWork, paper: Paper, titles: Sequence[str]) -> tuple[list[Page], Lead]:
    """The first page, and what goes on over the second.

    Parameters
    ----------
    work : CrewWork
    paper : Paper
    titles : sequence of str
        Of the sheets after those returned, in order.

    Returns
    -------
    pages : list of Page
        One, or as many as large print takes.
    lead : Lead
        Cautions and index.
    """
    say = speaking(work.settings.language)
    paper = paper.turned()
    _, _, width, height = body(paper)
    wide = (width - _GAP) / 2.0
    size = type_size(work, _TYPE)
    points = 2  # the sheet with points and cautions
    while True:
        pages = pour(
            _pieces(work, say, wide, size, points),
            2,
            lambda page: height - (_TOP + _SIGN) * (page == 0),
        )
        if points == len(pages) + 1:
            break
        points = len(pages) + 1

    def drawer(number: int) -> Any:
        def draw(axes: Any, rectangle: Rectangle) -> None:
            left, low, _, high = rectangle
            top = low + high
            if number == 0:
                _head(axes, work, say, left, top, width)
                draw_check_bar(axes, left, low + 28.0, work.design.site, say)
                _signatures(axes, say, left, low, width)
                top -= _TOP
            draw_placed(axes, pages[number], left, top, wide, _GAP)

        return draw

    first = [Page(say("title_first"), paper, drawer(k)) for k in range(len(pages))]
    return first, _lead(work, say, wide, size, index(titles, len(first) + 1))


def _lead(work: CrewWork, say: Say, wide: float, size: float, sheets: Sequence[str]) -> Lead:
    language = work.settings.language
    texts = [say_caution(one.topic, language) for one in CAUTIONS]
    pieces = _block(say("head_cautions"), texts, False, wide, max(_LEAST, size - 0.5))
    pieces += _block(say("head_index"), sheets, False, wide, size)
    placed = balanced(pieces, 2)

    def draw(axes: Any, left: float, top: float) -> None:
        draw_placed(axes, placed, left, top, wide, _GAP)

    return Lead(depth(placed), draw)


def _head(axes: Any, work: CrewWork, say: Say, left: float, top: float, width: float) -> None:
    site, language, code = work.design.site, work.settings.language, work.design.code
    room = width - _CODE - 130.0
    size, lines = _name(site.name, room)
    y = top
    for line in lines:
        y -= 1.2 * size
        write_text(axes, left, y, line, size, bold=True)
    table = site.file.site
    facts = say(
        "site_line",
        unit=say_unit(site.unit, language),
        datum=table.vertical_datum or say("not_stated"),
        crs=table.crs or say("local_grid"),
    )
    if table.address:
        facts = f"{table.address}. {facts}"
    y -= 3.0
    for line in wrap(facts, room, _LEAST, 3):
        y -= 1.35 * _LEAST
        write_text(axes, left, y, line, _LEAST)
    draw_code(axes, code, left + width - _CODE, top, _CODE)
    right = left + width - _CODE - 6.0
    write_text(axes, right, top - 16.0, say("layout_code", code=code), 10.0, bold=True, ha="right")
    for k, line in enumerate(wrap(say("layout_code_note"), 116.0, _LEAST, 3)):
        write_text(axes, right, top - 28.0 - 1.3 * _LEAST * k, line, _LEAST, ha="right")


def _name(name: str, width: float) -> tuple[float, list[str]]:
    """The site's name whole, in the largest of a few type sizes that takes it."""
    for size, most in ((22.0, 1), (15.0, 2), (11.0, 3)):
        lines = wrap(name, width, size, most, bold=True)
        if not lines[-1].endswith("…"):
            return size, lines
    return 8.0, wrap(name, width, 8.0, 4, bold=True)


def _pieces(work: CrewWork, say: Say, width: float, size: float, points: int) -> list[Piece]:
    blocks: list[tuple[str, list[str], bool]] = [
        (say("head_method"), _steps(work, say, points), True),
        (say("head_stop"), _stops(work, say), False),
        (say("head_who"), _people(work, say), False),
        (say("head_tools"), _tools(work, say), False),
        (say("head_counts"), _counts(work, say), False),
        (say("head_setup"), _setup(work, say, points), False),
    ]
    if work.setups:
        close = decimal(work.design.site.unit.default(*_CLOSE), work.design.site.unit)
        words = say(
            "close_words",
            mark=work.setups[0].mark,
            close=close,
            unit=work.design.site.unit.short,
        )
        blocks.append((say("head_close"), [words], False))
    pieces = [piece for block in blocks for piece in _block(*block, width, size)]
    pieces += _block(say("head_foot"), [_foot(work, say)], False, width, size)

    def sketch(axes: Any, left: float, top: float, wide: float) -> None:
        draw_sketch(axes, work, say, left, top, wide)

    pieces.append(Piece(HEIGHT + 6.0, sketch))
    expected = say(
        "expect_words",
        share=percent(work.as_laid.share_laid),
        designed=percent(work.as_laid.share_designed),
    )
    return pieces + _block(say("head_expect"), [expected], False, width, size)


def _block(
    head: str, paragraphs: Sequence[str], numbered: bool, width: float, size: float
) -> list[Piece]:
    """A heading and its paragraphs, with numbers or dots."""

    def title(axes: Any, left: float, top: float, wide: float) -> None:
        y = top - 1.2 * (size + 1.5)
        write_text(axes, left, y, head, size + 1.5, bold=True)
        axes.plot([left, left + wide], [y - 3.0] * 2, color=INK, lw=PENS["thin"])

    pieces = [Piece(1.2 * (size + 1.5) + 5.0, title, stick=True)]
    for number, text in enumerate(paragraphs, 1):
        sign = f"{number}." if numbered else "•" if len(paragraphs) > 1 else ""
        pieces.append(_paragraph(sign, text, width, size, bold=numbered))
    pieces.append(Piece(0.6 * size, lambda *_: None))
    return pieces


def _paragraph(sign: str, text: str, width: float, size: float, *, bold: bool) -> Piece:
    indent = (1.6 if bold else 1.0) * size if sign else 0.0
    lines = wrap(text, width - indent, size, 12)

    def draw(axes: Any, left: float, top: float, _: float) -> None:
        y = top
        for k, line in enumerate(lines):
            y -= 1.28 * size
            if k == 0 and sign:
                write_text(axes, left, y, sign, size, bold=bold)
            write_text(axes, left + indent, y, line, size)

    return Piece(1.28 * size * len(lines) + 0.25 * size, draw)


def _steps(work: CrewWork, say: Say, points: int) -> list[str]:
    unit, field = work.design.site.unit, work.field
    agree = decimal(unit.default(*_AGREE), unit)
    pair = _pair(work)
    known = {"close": agree, "unit": unit.short, "sheet": points}
    steps = [
        say("step_points_two", one=pair[0].name, two=pair[1].name, **known)
        if len(pair) > 1
        else say("step_points", **known)
    ]
    if work.setups:
        steps.append(say("step_laser"))
    if field.gauged:
        guides = joined(field.guides, say("and"))
        steps.append(say(f"step_guide_{field.tool}", guides=guides))
    else:
        steps.append(say(f"step_all_{field.tool}"))
    steps.append(say("step_flag"))
    if field.gauged:
        steps.append(say("step_gauge"))
    if work.setups:
        steps.append(say("step_check", check=_check(work), unit=unit.short))
    else:
        steps.append(say("step_check_bare"))
    steps.append(say("step_finish"))
    if work.setups:
        tolerance = decimal(work.design.site.settings.level_tolerance, unit)
        steps.append(say("step_lay", tolerance=tolerance, unit=unit.short))
    return steps


def _check(work: CrewWork) -> str:
    unit = work.design.site.unit
    return decimal(CrewErrors.of_site(work.design.site).rod_check, unit)


def _pair(work: CrewWork) -> Sequence[FindablePoint]:
    return permanent_pair(work.field.points)


def _stops(work: CrewWork, say: Say) -> list[str]:
    stops = [say("stop_rain"), say("stop_rock")]
    if work.setups:
        stops.append(say("stop_mark", check=_check(work), unit=work.design.site.unit.short))
    return [*stops, say("stop_check"), say("stop_line")]


def _people(work: CrewWork, say: Say) -> list[str]:
    people = [say(f"who_tool_{work.field.tool}")]
    return [*people, say("who_stick"), say("who_tube")] if work.field.gauged else people


def _tools(work: CrewWork, say: Say) -> list[str]:
    unit, field = work.design.site.unit, work.field
    tools = []
    if work.setups:
        rod = decimal(work.settings.rod_length, unit)
        tools.append(say("tool_laser", rod=rod, unit=unit.short))
    tape = f"{unit.default(200.0, 60.0):g}"
    if field.count("instrument"):
        tools.append(say("tool_instrument", points="stakes.csv"))
    key = "tool_tapes" if field.count("tape") else "tool_tape"
    tools.append(say(key, tape=tape, unit=unit.short))
    gaps = [mark.gap for mark in field.rows if mark.method == "gauge"]
    if gaps:
        least, most = decimal(min(gaps), unit), decimal(max(gaps), unit)
        if not unit.is_metric:
            least, most = (
                f"{figure} ({feet_inches(gap)})"
                for figure, gap in ((least, min(gaps)), (most, max(gaps)))
            )
        tools.append(say("tool_stick", least=least, most=most, unit=unit.short))
    longest = max(row.length for row in work.laterals)
    tools.append(say("tool_tube", length=f"{longest:.0f}", unit=unit.short))
    return [*tools, say("tool_ground")]


def _counts(work: CrewWork, say: Say) -> list[str]:
    unit, field = work.design.site.unit, work.field
    stick = field.count("gauge")
    counts = [
        say(
            "count_flags",
            flags=len(field.rows),
            tool=len(field.rows) - stick,
            way=say(f"way_{field.tool}"),
            stick=stick,
        )
    ]
    for lay, key, name in (("paint", "count_paint", "paint"), ("string", "count_string", "string")):
        own = [one for one in work.marking if one.lay == lay]
        if own:
            length = {name: f"{total(own, own[0].lay):.0f}"}
            counts.append(say(key, unit=unit.short, count=len(own), **length))
    return [*counts, say("count_colours")]


def _setup(work: CrewWork, say: Say, points: int) -> list[str]:
    unit = work.design.site.unit
    if not work.setups:
        return [say("setup_none")]
    first = work.setups[0]
    words = [
        say(
            "setup_first",
            mark=first.mark,
            elevation=decimal(first.mark_elevation, unit),
            backsight=_both(first.backsight, work),
            height=decimal(first.height, unit),
            low=decimal(first.reach[0], unit),
            high=decimal(first.reach[1], unit),
        )
    ]
    benchmark = work.settings.benchmark
    if benchmark is not None and benchmark.description:
        words.insert(0, f"{first.mark}: {plain(benchmark.description)}.")
    words.append(say("setup_given" if work.settings.backsight is not None else "setup_planned"))
    if len(work.setups) > 1:
        words.append(say("setup_more", count=len(work.setups) - 1, sheet=points))
    return words


def _both(length: float, work: CrewWork) -> str:
    unit = work.design.site.unit
    text = f"{decimal(length, unit)} {unit.short}"
    return text if unit.is_metric else f"{text} ({feet_inches(length)})"


def _foot(work: CrewWork, say: Say) -> str:
    unit, depth = work.design.site.unit, work.settings.rod_depth
    foot = work.settings.rod_foot
    key = f"foot_{foot}_deep" if depth > 0.0 and foot in ("sand", "tubing") else f"foot_{foot}"
    return say(key, depth=decimal(depth, unit), unit=unit.short)


def index(titles: Sequence[str], first: int = 2) -> list[str]:
    """Titles with the sheets they take: ``3 to 5  Staking table``.

    Parameters
    ----------
    titles : sequence of str
        Of consecutive sheets.
    first : int
        Number of the first of them.

    Returns
    -------
    list of str
    """
    lines: list[str] = []
    start = 0
    for i, title in enumerate(titles):
        if i + 1 < len(titles) and titles[i + 1] == title:
            continue
        numbers = f"{start + first}" if i == start else f"{start + first}–{i + first}"
        lines.append(f"{numbers}   {title}")
        start = i + 1
    return lines


def _signatures(axes: Any, say: Say, left: float, low: float, width: float) -> None:
    who = ("designed_by", "staked_by", "checked_by")
    share = width / len(who)
    for i, key in enumerate(who):
        x = left + i * share
        axes.plot([x, x + share - 16.0], [low + 12.0] * 2, color=INK, lw=PENS["medium"])
        text = say("signed", who=say(key))
        write_text(axes, x, low + 2.0, shorten(text, share - 10.0, _LEAST), _LEAST, color=DIM)
