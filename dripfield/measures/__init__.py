"""Measures of a finished layout, taken from the drawn lines and the ground alone."""

from __future__ import annotations

from dripfield.measures.field import Measured, SmoothedLevel, measure_layout, served_area
from dripfield.measures.laterals import LateralMeasure, measure_laterals

__all__ = [
    "LateralMeasure",
    "Measured",
    "SmoothedLevel",
    "measure_laterals",
    "measure_layout",
    "served_area",
]
