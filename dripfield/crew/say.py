"""What simulated crews make of a layout, in a sentence or two."""

from __future__ import annotations

from collections.abc import Sequence

from dripfield.crew.choose import Choice
from dripfield.crew.simulate import AsLaid


def as_laid_words(as_laid: AsLaid, way: str) -> str:
    """``expected as laid: 98.5 % of the tubing within both tolerances (99.9 % as designed) …``."""
    return (
        f"expected as laid: {percent(as_laid.share_laid)} of the tubing within both tolerances"
        f" ({percent(as_laid.share_designed)} as designed), merit {as_laid.merit:.3f} of"
        f" {as_laid.merit_designed:.3f}; by {way}, {as_laid.crews} simulated crews with the errors"
        " of [crew], which are assumptions"
    )


def way_words(choice: Choice, taken: str) -> Sequence[str]:
    """A line on the ways beside the one taken, where another would serve better."""
    own = next(one for one in choice.ways if one.name == taken)
    if choice.chosen.name == taken:
        return ()
    better = choice.chosen
    return (
        f"{better.name} would keep {better.as_laid.kept:.2f} of the designed merit in"
        f" {better.minutes / 60.0:.1f} h of setting, {taken} keeps {own.as_laid.kept:.2f} in"
        f" {own.minutes / 60.0:.1f} h: set_by under [crew]",
    )


def percent(share: float) -> str:
    """A share rounded down, so that 100 % means all of it."""
    return f"{int(share * 1000 + 1e-6) / 10:.1f} %"
