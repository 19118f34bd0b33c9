"""Set-ups of the laser in sentences, for sheets and phone page."""

from __future__ import annotations

from dripfield.core.feet_inches import decimal
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.language import speaking


def setup_words(work: CrewWork, language: str | None = None) -> list[str]:
    """Each set-up in a sentence or two: its mark and beam, and how it is turned to.

    Parameters
    ----------
    work : CrewWork
    language : str, optional
        That of the sheets unless given.

    Returns
    -------
    list of str
    """
    unit = work.design.site.unit
    say = speaking(language or work.settings.language)

    def length(value: float) -> str:
        return f"{decimal(value, unit)} {unit.short}"

    words = []
    for setup in work.setups:
        figures = {
            "mark": setup.mark,
            "elevation": length(setup.mark_elevation),
            "backsight": length(setup.backsight),
            "height": length(setup.height),
            "low": length(setup.reach[0]),
            "high": length(setup.reach[1]),
        }
        if setup.before is None or setup.foresight is None:
            words.append(say("setup_one", number=setup.number, words=say("setup_first", **figures)))
        else:
            words.append(
                say(
                    "setup_turn",
                    number=setup.number,
                    before=setup.before,
                    foresight=length(setup.foresight),
                    **figures,
                )
            )
    return words
