"""Dense systems are solved on one thread, and the setting is given back."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.linalg
from threadpoolctl import threadpool_info, threadpool_limits

from dripfield.core.threads import one_thread
from dripfield.ground.smoothing.smooth import smooth_ground
from dripfield.ground.triangles.tin import Surface


def blas_threads() -> set[int]:
    return {one["num_threads"] for one in threadpool_info() if one["user_api"] == "blas"}


def test_one_thread_and_the_number_before_it_again() -> None:
    with threadpool_limits(limits=2, user_api="blas"):
        with one_thread():
            assert blas_threads() == {1}
        assert blas_threads() == {2}


def test_the_ground_is_smoothed_on_one_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[set[int]] = []
    solve = scipy.linalg.solveh_banded

    def watched(*args: object, **more: object) -> object:
        seen.append(blas_threads())
        return solve(*args, **more)

    monkeypatch.setattr(scipy.linalg, "solveh_banded", watched)
    xy = np.random.default_rng(0).uniform(0.0, 100.0, (60, 2))
    z = 100.0 + 0.1 * xy[:, 1] + np.sin(xy[:, 0] / 15.0)
    with threadpool_limits(limits=2, user_api="blas"):
        smooth_ground(Surface.from_points(np.column_stack((xy, z))), 0.05)
    assert seen
    assert all(threads == {1} for threads in seen)
