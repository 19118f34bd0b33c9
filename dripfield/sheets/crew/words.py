"""Phrases that sheets and phone page share: tape distances, offsets, set-ups of the laser."""

from __future__ import annotations

import math

from dripfield.core.feet_inches import decimal
from dripfield.sheets.crew.gather import CrewWork


def tape_places(accuracy: float) -> int:
    """Decimals that show a tape's accuracy: 1 for 0.1, 2 for 0.01."""
    return max(0, math.ceil(-math.log10(accuracy) - 1e-9))


def tape_words(work: CrewWork, distance: float, *, bare: bool = False) -> str:
    """A distance to the tape's accuracy; ``bare`` leaves the unit out."""
    text = f"{distance + 0.0:.{tape_places(work.flags.accuracy)}f}"
    return text if bare else f"{text} {work.design.site.unit.short}"


def offset_words(work: CrewWork, offset: float, *, bare: bool = False) -> str:
    """An offset with its side: ``12.3 ft left``, or ``12.3 L`` when bare."""
    side = "right" if offset >= 0 else "left"
    if offset == 0.0:
        return tape_words(work, 0.0, bare=bare)
    text = tape_words(work, abs(offset), bare=bare)
    return f"{text} {side[0].upper()}" if bare else f"{text} {side}"


def setup_words(work: CrewWork) -> list[str]:
    """Each set-up in one sentence: its mark, beam and laterals, and how it is turned to."""
    unit = work.design.site.unit

    def say(value: float) -> str:
        return f"{decimal(value, unit)} {unit.short}"

    words = []
    for setup in work.setups:
        names = [work.laterals[int(i)].name for i in setup.targets]
        reads = (
            "no lateral, it only carries the height on"
            if not names
            else names[0]
            if len(names) == 1
            else f"{len(names)} laterals, {names[0]} to {names[-1]}"
        )
        turn = (
            ""
            if setup.before is None or setup.foresight is None
            else f" Before moving from set-up {setup.before}, choose a firm point where the rod"
            f" reads about {say(setup.foresight)} and read it: it is {setup.mark}."
        )
        low, high = setup.reach
        words.append(
            f"Set-up {setup.number}.{turn} Mark {setup.mark} at {say(setup.mark_elevation)} +"
            f" backsight {say(setup.backsight)} = height of instrument {say(setup.height)}."
            f" Reads {reads}. The beam may stand between {say(low)} and {say(high)}."
        )
    if len(words) > 1:
        words.append(
            "A turning point's true elevation is height of instrument - reading, as shot: use it"
            " in place of the planned one."
        )
    return words
