"""Pass, fail or not proven: what the shots say of a raked bed, with the reasons in words."""

from __future__ import annotations

import math

import numpy as np

from dripfield.bed.check import BedCheck
from dripfield.core.units import Unit
from dripfield.core.verdict import MeasureMore, Verdict, verdict_of

_MORE_PLACES = 6  # decimals at most
_WORDS = {"stripped": "the stripped ground", "sand": "the top of sand", "finished": "the grade"}
_COMPASS = (
    "north",
    "north-east",
    "east",
    "south-east",
    "south",
    "south-west",
    "west",
    "north-west",
)


def judge(check: BedCheck, unit: Unit) -> Verdict:
    """The answer of a check.

    Parameters
    ----------
    check : BedCheck
    unit : Unit
        The site's.

    Returns
    -------
    Verdict
        Fail where too many places are off, or one by too much; else not proven where too little is
        shot or shots at one place disagree; else pass.
    """
    passes = [within_words(check, unit)] if len(check.places.xyz) else []
    return verdict_of(
        _failures(check, unit), _unproven(check, unit), passes, _measure_more(check, unit)
    )


def within_words(check: BedCheck, unit: Unit) -> str:
    """How many shots lie within tolerance, and the worst where not all do."""
    count, within = len(check.places.xyz), int(check.place_ok.sum())
    tolerance = f"{check.tolerance:g} {unit.short}"
    if within == count:
        many = f"all {count} shots lie" if count > 1 else "the one shot lies"
        return f"{many} within {tolerance} of the design"
    wanted = "" if check.share_wanted == 1.0 else f", {check.share_wanted:.0%} must"
    return (
        f"{within} of {count} shots lie within {tolerance} of the design{wanted}; the worst, "
        f"{worst_words(check, check.tolerance, unit)}"
    )


def worst_words(check: BedCheck, limit: float, unit: Unit) -> str:
    """The worst shot and by how much it is off, in as many decimals as show that it is.

    Parameters
    ----------
    check : BedCheck
    limit : float
        Tolerance that the worst is set against [site unit].
    unit : Unit

    Returns
    -------
    str
    """
    worst = float(check.place_difference[check.worst_place])
    side = "high" if worst > 0 else "low"
    size = shown_over(abs(worst), limit, unit.places)
    return f"{check.shots.names[check.worst]}, is {size} {unit.short} {side}"


def shown_over(value: float, limit: float, places: int) -> str:
    """A value with the decimals it takes to be seen to differ from its limit.

    Parameters
    ----------
    value, limit : float
        [any unit]
    places : int
        Least decimals.

    Returns
    -------
    str

    Examples
    --------
    >>> shown_over(0.0502, 0.05, 2), shown_over(0.2, 0.05, 2)
    ('0.0502', '0.20')
    """
    if value > limit:
        while places < _MORE_PLACES and float(f"{value:.{places}f}") <= limit + 1e-12:
            places += 1
    return f"{value:.{places}f}"


def _failures(check: BedCheck, unit: Unit) -> list[str]:
    if not len(check.places.xyz):
        return []
    found = []
    if check.share_within < check.share_wanted - 1e-9:
        found.append(within_words(check, unit))
    worst = abs(float(check.place_difference[check.worst_place]))
    if check.share_wanted < 1.0 and worst > check.worst_allowed + 1e-9:
        found.append(
            f"the worst shot, {worst_words(check, check.worst_allowed, unit)}: none may be off by "
            f"more than {check.worst_allowed:g} {unit.short}"
        )
    if found and check.cause is not None:
        found.append(cause_words(check, unit))
    return found


def cause_words(check: BedCheck, unit: Unit) -> str:
    """What one cause explains, and what it may be."""
    cause = check.cause
    assert cause is not None
    short, places = unit.short, unit.places
    some = "all" if cause.within == cause.count else f"{cause.within} of"
    tolerance = f"{check.tolerance:g} {short}"
    middle = f"{abs(cause.shift):.{places}f} {short}"
    if cause.tilts:
        tilt = float(np.hypot(*cause.tilt))
        way = _COMPASS[round(math.degrees(math.atan2(*cause.tilt)) / 45.0) % 8]
        off = (
            f"a tilt of {100.0 * tilt:.2f} % up to the {way} and {middle} "
            f"{'high' if cause.shift > 0 else 'low'} in the middle are"
        )
        return (
            f"{some} {cause.count} within {tolerance} once {off} taken off: an instrument out of "
            "level, or another plane than the design's?"
        )
    what = "taken off" if cause.shift > 0 else "added"
    return f"{some} {cause.count} within {tolerance} once {middle} is {what}: {_why(check, unit)}?"


def _why(check: BedCheck, unit: Unit) -> str:
    cause = check.cause
    assert cause is not None
    if check.level == "sand" and cause.shift > 0 and check.cover_depth > 0:
        depth = f"{check.cover_depth:.{unit.places}f}"
        return f"benchmark, or shots on the finished grade (cover {depth})"
    if check.level == "finished" and cause.shift < 0 and check.cover_depth > 0:
        depth = f"{check.cover_depth:.{unit.places}f}"
        return f"benchmark, or shots on the top of sand (cover {depth})"
    if check.level == "sand" and cause.shift < 0:
        return "benchmark, or shots on the stripped ground"
    return "benchmark, or shots on another surface than " + _WORDS[check.level]


def _unproven(check: BedCheck, unit: Unit) -> list[str]:
    short = unit.short
    found = [_disagreement(check, shots.tolist(), unit) for shots in check.places.disagree]
    cover, enough = check.cover, check.enough
    if not len(check.places.xyz):
        return [*found, "no place of the bed has a shot that counts"]
    if cover.within_reach < enough.share:
        found.append(
            f"{math.floor(100.0 * cover.within_reach)} % of the bed lies within {enough.reach:g} "
            f"{short} of a shot, {enough.share:.0%} must"
        )
    if cover.widest_gap > enough.gap:
        y, x = cover.gap_at[1], cover.gap_at[0]
        found.append(
            f"N {y:.1f}, E {x:.1f} lies {shown_over(cover.widest_gap, enough.gap, 1)} {short} from "
            f"the nearest shot, at most {enough.gap:g} is allowed"
        )
    if cover.area_a_shot > enough.area + 1e-9:
        found.append(
            f"one shot stands for {shown_over(cover.area_a_shot, enough.area, 0)} {short}2, at "
            f"most {enough.area:g} is allowed"
        )
    return found


def _disagreement(check: BedCheck, shots: list[int], unit: Unit) -> str:
    z = check.shots.xyz[shots, 2]
    low, high = shots[int(z.argmin())], shots[int(z.argmax())]
    apart = shown_over(float(np.ptp(z)), check.tolerance, unit.places)
    return (
        f"shots {check.shots.names[low]} and {check.shots.names[high]} at one place are {apart} "
        f"{unit.short} apart in height: neither counts"
    )


def _measure_more(check: BedCheck, unit: Unit) -> list[MeasureMore]:
    short = unit.short
    places = []
    for shots in check.places.disagree:
        x, y = check.shots.xyz[shots, :2].mean(axis=0)
        names = " and ".join(check.shots.names[number] for number in shots.tolist())
        places.append(MeasureMore(float(y), float(x), f"shots {names} disagree"))
    for (x, y), gap in zip(check.cover.wanted, check.cover.wanted_gaps, strict=True):
        why = "no shot in the bed"
        if math.isfinite(gap):
            why = f"the nearest shot is {gap:.1f} {short} away"
        places.append(MeasureMore(float(y), float(x), why))
    for zone in check.zones:
        if zone.chord:
            x, y = zone.worst_xy
            why = (
                f"{zone.name} is drawn by lines between shots up to {zone.chord:.1f} {short} apart"
            )
            places.append(MeasureMore(float(y), float(x), why))
    return places
