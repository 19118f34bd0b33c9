"""The similarity fit against a published example and independent libraries."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from scipy.linalg import orthogonal_procrustes
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation
from shapely import Polygon, affinity

from dripfield.core.similarity import fit_similarity
from dripfield.review.place.outline_fit import fit_outlines


def test_the_published_example() -> None:
    """Umeyama (1991), IEEE PAMI 13(4), the worked example of section II (from memory): a triangle
    and its mirror image give scale 0.721, rotation of cosine 0.832, shift (-0.800, 0.400)."""
    source = np.array([(0.0, 0.0), (1.0, 0.0), (0.0, 2.0)])
    target = np.array([(0.0, 0.0), (-1.0, 0.0), (0.0, 2.0)])
    move = fit_similarity(source, target)
    assert move.scale == pytest.approx(0.721, abs=5e-4)
    assert math.cos(move.turn) == pytest.approx(0.832, abs=5e-4)
    assert math.sin(move.turn) == pytest.approx(-0.555, abs=5e-4)
    np.testing.assert_allclose(move.apply(np.zeros((1, 2)))[0], (-0.800, 0.400), atol=5e-4)


@pytest.mark.parametrize("seed", range(5))
def test_rotation_against_scipy(seed: int) -> None:
    """scipy.linalg.orthogonal_procrustes and scipy.spatial.transform.Rotation.align_vectors."""
    rng = np.random.default_rng(seed)
    source = rng.normal(size=(7, 2)) * 50.0
    turn = rng.uniform(-3.0, 3.0)
    c, s = math.cos(turn), math.sin(turn)
    target = source @ np.array(((c, s), (-s, c))) * 0.7 + (1.5e6, 6e5) + rng.normal(size=(7, 2))
    move = fit_similarity(source, target)
    a, b = source - source.mean(axis=0), target - target.mean(axis=0)
    matrix, _ = orthogonal_procrustes(a, b)
    assert np.linalg.det(matrix) > 0.0
    assert move.turn == pytest.approx(math.atan2(matrix[0, 1], matrix[0, 0]), abs=1e-9)
    flat = np.zeros((7, 1))
    rotation, _ = Rotation.align_vectors(np.hstack((b, flat)), np.hstack((a, flat)))
    assert math.remainder(move.turn - rotation.as_rotvec()[2], math.tau) == pytest.approx(
        0.0, abs=1e-6
    )


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("scale", [None, 1.0])
def test_least_squares_agrees(mirrored: bool, scale: float | None) -> None:
    """scipy.optimize.least_squares over scale, turn and shift finds no better fit."""
    rng = np.random.default_rng(11)
    source, target = rng.normal(size=(6, 2)), rng.normal(size=(6, 2))
    move = fit_similarity(source, target, scale=scale, mirrored=mirrored)
    flip = np.array((1.0, -1.0 if mirrored else 1.0))

    def residual(p: np.ndarray) -> np.ndarray:
        size, turn, x, y = p
        size = size if scale is None else scale
        c, s = math.cos(turn), math.sin(turn)
        return (size * (source * flip) @ np.array(((c, s), (-s, c))) + (x, y) - target).ravel()

    best = min(
        (least_squares(residual, (0.5, start, 0.0, 0.0)) for start in (-2.0, 0.0, 2.0)),
        key=lambda one: one.cost,
    )
    own = float(((move.apply(source) - target) ** 2).sum()) / 2.0
    assert own == pytest.approx(best.cost, rel=1e-7)


BED = Polygon([(0, 0), (90, 0), (104, 22), (70, 40), (6, 36)])


@pytest.mark.parametrize("turn", [0.0, 37.0, 123.0, 200.0, 311.0])
def test_outlines_are_laid_on_each_other(turn: float) -> None:
    bed = affinity.translate(BED, 1.5e6, 6e5)
    plan = affinity.rotate(affinity.scale(BED, 0.05, 0.05, origin=(0, 0)), turn, origin=(0, 0))
    fit = fit_outlines(plan, bed)[0]
    assert fit.rms < 1e-6
    assert fit.move.scale == pytest.approx(20.0, rel=1e-9)
    assert math.remainder(fit.move.turn + math.radians(turn), math.tau) == pytest.approx(
        0.0, abs=1e-9
    )
    placed = shapely.transform(plan, fit.move.apply)
    assert shapely.hausdorff_distance(placed.exterior, bed.exterior) < 1e-5


def test_a_mirror_image_fits_only_mirrored() -> None:
    mirror = affinity.scale(BED, -1.0, 1.0)
    assert fit_outlines(mirror, BED)[0].rms > 0.5
    assert fit_outlines(mirror, BED, mirrored=True)[0].rms < 1e-6


def test_every_way_round_of_a_rectangle_is_found() -> None:
    """A rectangle lies on itself in two turns, and its mirror image in two."""
    box = shapely.box(0, 0, 60, 20)
    for mirrored in (False, True):
        ways = [one for one in fit_outlines(box, box, mirrored=mirrored) if one.rms < 1e-6]
        assert len(ways) == 2
    assert sum(one.rms < 1e-6 for one in fit_outlines(shapely.box(0, 0, 9, 9), BED.envelope)) == 0
