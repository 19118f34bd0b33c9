"""Phrases that sheets and phone page share: set-ups of the laser."""

from __future__ import annotations

from dripfield.core.feet_inches import decimal
from dripfield.sheets.crew.gather import CrewWork


def setup_words(work: CrewWork) -> list[str]:
    """Each set-up in one sentence: its mark, beam and laterals, and how it is turned to."""
    unit = work.design.site.unit

    def say(value: float) -> str:
        return f"{decimal(value, unit)} {unit.short}"

    words = []
    for setup in work.setups:
        names = [work.laterals[int(i)].name for i in setup.targets]
        reads = (
            "no lateral"
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
