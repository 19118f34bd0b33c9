"""Which candidate layout to take: judged by measurement alone.

The engine makes candidates and knows nothing of the measures; the measures know nothing of how the
lines were made. Here the two meet: every candidate is measured against the ground as surveyed, and
each panel and connection more must gain a stated merit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Protocol

from dripfield.core.height_field import HeightField
from dripfield.core.words import counted
from dripfield.design.candidates import PLAIN
from dripfield.design.worth import Judged
from dripfield.layout.model import Layout, PanelOption
from dripfield.measures.field import measure_merit
from dripfield.site.model import Bed, LayoutSettings

UNSURE = 0.003
"""Merit: what measuring by few samples may be off."""

_TRIES = 2  # divisions running that may fall behind the best before no more are tried
_WORTH_REFINING = 3.0  # panels' gains still to be had, for the seams to be moved
_EQUAL = 2e-4  # merit: candidates nearer than this are equal, and the plainer one is taken

Say = Callable[[str], None]
"""Told in a few words what was just found."""


class Source(Protocol):
    """Candidates made as they are asked for."""

    def __iter__(self) -> Iterator[Layout]:
        """The plainest first, then the most promising."""
        ...

    def finer(self, layout: Layout) -> Iterable[Layout]:
        """More beside one of these."""
        ...

    def others(self, most: int) -> Iterable[Layout]:
        """One for each number of panels, up to a number, that none was made of yet."""
        ...


@dataclass(frozen=True)
class Choice:
    """The layout chosen, and the best candidate for each number of panels.

    Attributes
    ----------
    layout : Layout
    options : tuple of PanelOption
        Panels rising; without ``compare`` those that were tried.
    settled : bool
        No further panel could gain what it must.
    tried : tuple of PanelOption
        The options without those made only to compare.
    bent : PanelOption or None
        One field of freely bent lines that measures better than the plain layout chosen. A plain
        layout that holds both tolerances, with less than a panel's gain amiss or bare, is kept all
        the same: its lines are straight, parallel or level throughout, which is easier to stake
        and to check, and what a field gains over it comes of closing up within the tolerance.
    """

    layout: Layout
    options: tuple[PanelOption, ...]
    settled: bool
    tried: tuple[PanelOption, ...] = ()
    bent: PanelOption | None = None


def choose(
    laid: Source,
    ground: HeightField,
    settings: LayoutSettings,
    bed: Bed,
    compare: bool = False,
    say: Say | None = None,
) -> Choice:
    """Take the candidate of most merit when each panel beyond the first must gain so much, and each
    connection a length of tubing.

    Candidates are asked for one by one. No more are made once all that is out of tolerance or bare
    is worth less than a panel must gain, or two divisions running fall behind the best. Then, where
    much is still amiss, finer candidates beside the best one are tried.

    Parameters
    ----------
    laid : Source
    ground : HeightField
        What the laterals are measured against.
    settings : LayoutSettings
    bed : Bed
    compare : bool
        Measure the other numbers of panels as well, once the choice is made; more panels than
        chosen only if they may yet gain what they must.
    say : callable, optional
        Told what each candidate is and measures.

    Returns
    -------
    Choice
    """
    gain = settings.panel_gain
    best: Judged | None = None
    plain: list[Judged] = []
    by_panels: dict[int, Judged] = {}
    behind = 0

    def judged(layout: Layout) -> Judged:
        here = Judged(layout, measure_merit(layout, ground, settings, bed), settings)
        rival = by_panels.setdefault(here.panels, here)
        if here.worth > rival.worth + _EQUAL:
            by_panels[here.panels] = here
        if say is not None and layout.laterals:
            say(_found(here, settings))
        return here

    def in_full(one: Judged) -> Judged:
        measured = measure_merit(one.layout, ground, settings, bed, quick=False)
        return replace(one, measured=measured)

    for layout in laid:
        here = judged(layout)
        if best is None or _better(here, best):
            best, behind = here, 0
        elif layout.method not in PLAIN:
            behind += 1
        if layout.method in PLAIN:
            plain.append(here)
        plain_to_come = layout.method in PLAIN[:-1]
        if behind == _TRIES or (best.to_gain < gain and not plain_to_come):
            break
    if best is None:
        raise ValueError("there is no candidate to choose from")
    plainest, bent = best, None
    if best.to_gain >= _WORTH_REFINING * gain:
        for layout in laid.finer(best.layout):
            here = judged(layout)
            if _better(here, best):
                best = here
    best = _not_below_plain(best, plain, in_full)
    settled = best.to_gain < gain
    best = in_full(best)
    if best.layout is plainest.layout and best.layout.method in PLAIN and best.to_gain < gain:
        bent = _passed_over(best, [judged(one) for one in laid.others(1)], in_full)
    tried = {**by_panels, best.panels: best}
    if compare:
        for layout in laid.others(best.panels if settled else settings.max_panels):
            judged(layout)
        by_panels = {n: one if n == best.panels else in_full(one) for n, one in by_panels.items()}
    by_panels[best.panels] = best
    return Choice(best.layout, _options(by_panels, best), settled, _options(tried, best), bent)


def _better(here: Judged, best: Judged) -> bool:
    """Whether a candidate takes the place of the best so far; plain ones compare by merit alone."""
    if here.layout.method in PLAIN and best.layout.method in PLAIN:
        return here.measured.merit > best.measured.merit + _EQUAL
    return here.worth > best.worth + _EQUAL


def _passed_over(
    best: Judged, fields: list[Judged], in_full: Callable[[Judged], Judged]
) -> PanelOption | None:
    """One field of freely bent lines that measures better than a plain layout which holds both
    tolerances and leaves nothing bare."""
    for field in fields:
        if field.worth > best.worth + UNSURE:
            return in_full(field).option(False)
    return None


def _options(by_panels: dict[int, Judged], best: Judged) -> tuple[PanelOption, ...]:
    """Rows of the person's choice, panels rising."""
    return tuple(one.option(one is best) for _, one in sorted(by_panels.items()))


def _not_below_plain(
    best: Judged, plain: list[Judged], in_full: Callable[[Judged], Judged]
) -> Judged:
    """The best candidate, or a plain one that the full measure puts above it.

    Merit is compared from few samples; where a plain layout comes as near as they may err, both are
    measured in full.
    """
    merit = best.measured.merit
    near = [one for one in plain if one.measured.merit > merit - UNSURE and one is not best]
    if not near or best.layout.method in PLAIN[:1]:
        return best
    rival = max(near, key=lambda one: one.measured.merit)
    return rival if in_full(rival).measured.merit > in_full(best).measured.merit else best


def _found(here: Judged, settings: LayoutSettings) -> str:
    """A candidate in a few words: ``3 panels of up to 6: merit 0.833``."""
    if here.layout.method in PLAIN:
        what = f"{here.layout.method} lines"
    else:
        most = settings.panels or len(settings.seams) + 1
        if not settings.panels and not settings.seams:
            most = settings.max_panels
        what = f"{counted(here.panels, 'panel')} of up to {most}"
    return f"{what}: merit {here.measured.merit:.3f}"
