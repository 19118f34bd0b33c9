"""Rules that a bed is held against: each with its citation, each a warning that can be turned off.

The rules are those that were found published, from several jurisdictions: which of them binds a
site is for the designer to say.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.bed.design import BedDesign
from dripfield.bed.pieces import overlay, pieces_of
from dripfield.bed.sand import BED_FILL, FINE_AGGREGATE, Gradation, faults, read_sieves, untested
from dripfield.core.errors import input_error
from dripfield.rules.book import rule_book

_ROUNDING = 1e-6


@dataclass(frozen=True)
class Finding:
    """One rule and whether the bed keeps it.

    Attributes
    ----------
    rule : str
        What ``warnings_off`` names.
    ok : bool
    text : str
        What was found, with the value and the limit.
    citation, status : str
        ``status`` is ``confirmed``, ``secondary``, ``memory`` or ``site`` (the site's own rule).
    """

    rule: str
    ok: bool
    text: str
    citation: str
    status: str


def findings(design: BedDesign) -> tuple[Finding, ...]:
    """Hold a bed against every rule that applies and was not turned off.

    Raises
    ------
    InputError
        A sieve test that cannot be, or a separation asked for without a limiting layer.
    """
    found = [
        _cover_depth(design),
        *_sand_depth(design),
        *_separation(design),
        *_sieve(design),
        *_excavation(design),
    ]
    off = design.section.warnings_off
    return tuple(finding for finding in found if finding.rule not in off)


def warnings(found: tuple[Finding, ...]) -> list[str]:
    """The rules that are not kept, one line each."""
    return [f"{f.rule}: {f.text} ({f.citation})" for f in found if not f.ok]


def _cover_depth(design: BedDesign) -> Finding:
    """By the book's rule with both a least and a greatest cover."""
    rule = next(rule for rule in rule_book() if rule.id == "alabama-cover")
    least, greatest = rule.parameters["least_in"], rule.parameters["greatest_in"]
    inches = design.site.unit.to_feet(design.cover_depth) * 12.0
    return Finding(
        "cover depth",
        least - _ROUNDING <= inches <= greatest + _ROUNDING,
        f"{inches:.2f} in of cover over the tubing, {least:g} to {greatest:g} in wanted",
        rule.citation,
        rule.status,
    )


def _sand_depth(design: BedDesign) -> list[Finding]:
    wanted = design.section.sand
    if wanted == 0.0:
        return []
    depth = design.sand_under_tubing()
    x, y = design.inside.xy.reshape(-1, 2)[int(depth.argmin())]
    unit = design.site.unit
    return [
        Finding(
            "sand depth",
            bool(depth.min() >= wanted - _ROUNDING),
            f"at least {depth.min() + 0.0:.{unit.places}f} {unit.short} of sand under the tubing "
            f"(least at N {y:.1f}, E {x:.1f}), {wanted:g} {unit.short} wanted",
            "the site's own section",
            "site",
        )
    ]


def least_separation(design: BedDesign) -> tuple[float, float, float] | None:
    """Least height of the tubing over the limiting layer, with its easting and northing.

    None where the site names no limiting layer [site unit].
    """
    if design.limiting is None:
        return None
    both = overlay(design.inside.only("sand"), pieces_of(design.limiting, "limiting"))
    height = both.levels["sand"] + design.section.tubing_height - both.levels["limiting"]
    place = int(height.argmin())
    x, y = both.xy.reshape(-1, 2)[place]
    return float(height.reshape(-1)[place]), float(x), float(y)


def _separation(design: BedDesign) -> list[Finding]:
    wanted = design.section.separation
    if wanted is None:
        return []
    least = least_separation(design)
    if least is None:
        raise input_error(
            f"a separation of {wanted:g} is asked for, but no limiting layer is given",
            "add limiting (an elevation) or limiting_surface (a survey file), or remove separation",
            file="site.toml",
            field="[bed.section] separation",
        )
    height, x, y = least
    unit = design.site.unit
    return [
        Finding(
            "separation",
            height >= wanted - _ROUNDING,
            f"{height:.{unit.places}f} {unit.short} from the tubing down to the limiting layer at "
            f"N {y:.1f}, E {x:.1f}, at least {wanted:g} {unit.short} wanted",
            design.section.separation_source or "the site's own requirement",
            "site",
        )
    ]


def _sieve(design: BedDesign) -> list[Finding]:
    if not design.section.sieve:
        return []
    passing = read_sieves(design.section.sieve)
    return [_gradation(passing, FINE_AGGREGATE), _gradation(passing, BED_FILL)]


def _gradation(passing: dict[str, float], limits: Gradation) -> Finding:
    wrong, left_out = faults(passing, limits), untested(passing, limits)
    text = "; ".join(wrong) or "within the limits on the sieves tested"
    if left_out:
        text += f"; not tested: {', '.join(left_out)}"
    return Finding(limits.name, not wrong and not left_out, text, limits.citation, limits.status)


def _excavation(design: BedDesign) -> list[Finding]:
    """Depths from which a dig needs a way out, and protection from cave-in."""
    depth = design.pieces.levels["ground"] - design.pieces.levels["stripped"]
    unit = design.site.unit
    deepest = unit.to_feet(float(np.max(depth)))
    rules = (
        (4.0, "a ladder or ramp within 25 ft of travel", "29 CFR 1926.651(c)(2)", "confirmed"),
        (
            5.0,
            "protection from cave-in unless in stable rock",
            "29 CFR 1926.652(a)(1)",
            "secondary",
        ),
    )
    return [
        Finding(
            "deep excavation",
            False,
            f"the dig is up to {float(np.max(depth)):.{unit.places}f} {unit.short} deep: from "
            f"{limit:g} ft it needs {what}",
            citation,
            status,
        )
        for limit, what, citation, status in rules
        if deepest >= limit - _ROUNDING
    ]
