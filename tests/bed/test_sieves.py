"""Any sieve, and the sizes that a sieve test gives a sand."""

from __future__ import annotations

import pytest

from dripfield.bed.sieves import Gradation, faults, grain_sizes, read_sieves


def test_published_effective_size() -> None:
    # B. M. Das, Principles of Geotechnical Engineering, the example of a sieve analysis of 450 g
    # (from memory): retained 0, 21.6, 49.5, 102.6, 89.1, 95.6, 60.4 g on Nos. 4 to 200; read off
    # the curve D10 0.09 mm, D60 0.41 mm, uniformity coefficient 4.56
    retained = {"No. 4": 0.0, "No. 10": 21.6, "No. 20": 49.5, "No. 40": 102.6, "No. 60": 89.1,
                "No. 100": 95.6, "No. 200": 60.4}  # fmt: skip
    passing, left = {}, 450.0
    for name, mass_on in retained.items():
        left -= mass_on
        passing[name] = 100.0 * left / 450.0
    sizes = grain_sizes(read_sieves(passing))
    assert sizes.d10 == pytest.approx(0.09, abs=0.005)
    assert sizes.d60 == pytest.approx(0.41, abs=0.005)
    assert sizes.uniformity == pytest.approx(4.56, abs=0.2)


def test_sizes_are_straight_on_a_logarithmic_scale() -> None:
    # hand-derived: half way from 5 to 15 % between 0.15 and 0.60 mm is their geometric mean 0.30
    sizes = grain_sizes(read_sieves({"0.6 mm": 15, "0.15 mm": 5}))
    assert sizes.d10 == pytest.approx(0.30)
    assert sizes.d60 is None  # beyond the sieves tested: nothing is carried on
    assert sizes.uniformity is None
    assert grain_sizes(read_sieves({"0.6 mm": 60, "0.15 mm": 10})).uniformity == pytest.approx(4.0)


def test_any_sieve_is_understood() -> None:
    names = read_sieves(
        {"2 in": 100, '1 1/2"': 98, "3/4": 96, "9.5 mm": 95, "#4": 90, "10": 80, "No 40": 50,
         "0.3mm": 30, "0.2 mm": 20, "75 um": 5}
    )  # fmt: skip
    assert list(names) == [
        *("2 in", "1-1/2 in", "3/4 in", "3/8 in", "No. 4", "No. 10", "No. 40", "No. 50"),
        *("0.2 mm", "No. 200"),
    ]
    # stones over 3/8 in do not hide a sand's own step: No. 4 to No. 8 is 46 % here
    stony = read_sieves({"1 in": 100, "3/8 in": 100, "No. 4": 96, "No. 6": 70, "No. 8": 50})
    limits = Gradation(passing={}, most_between=45.0)  # as ASTM C33 has it, between its own sieves
    assert faults(stony, limits) == ["46 % between No. 4 and No. 8, at most 45 %"]
