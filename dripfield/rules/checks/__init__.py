"""The one register of checks: each takes a rule and the facts, and answers with a verdict.

A check asks the facts for what it needs; what nobody gave raises
:class:`dripfield.rules.model.facts.Missing`, and the rule is not proven.
"""

from __future__ import annotations

from dripfield.rules.checks.answer import Check
from dripfield.rules.checks.between import about, between
from dripfield.rules.checks.lie import (
    grade_along,
    on_contour,
    swale_by_ratio,
    swale_never,
    zone_height,
)
from dripfield.rules.checks.section import fill_extent, sand_grading
from dripfield.rules.checks.spacing import (
    length_for_area,
    spacing_between,
    standard_spacing,
    steep_length,
    steep_spacing,
)
from dripfield.rules.checks.statements import stated

CHECKS: dict[str, Check] = {
    "about": about,
    "between": between,
    "fill_extent": fill_extent,
    "grade_along": grade_along,
    "length_for_area": length_for_area,
    "on_contour": on_contour,
    "sand_grading": sand_grading,
    "spacing_between": spacing_between,
    "standard_spacing": standard_spacing,
    "stated": stated,
    "steep_length": steep_length,
    "steep_spacing": steep_spacing,
    "swale_by_ratio": swale_by_ratio,
    "swale_never": swale_never,
    "zone_height": zone_height,
}
