"""From survey to surface: duplicates, breaklines, voids, the surveyor's own faces."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.ground.build import survey_surface
from dripfield.ground.triangles.tin import Surface
from dripfield.site.schema.survey import Exclusion
from dripfield.survey.doubt.clean import clean
from dripfield.survey.doubt.exclude import without_excluded

RNG = np.random.default_rng(12)
FAR = np.array([2_000_000.0, 1_000_000.0])
XY = RNG.uniform(0.0, 100.0, (300, 2)) + FAR


def _plane(xy: np.ndarray) -> np.ndarray:
    return np.column_stack((xy, 0.1 * (xy[:, 0] - FAR[0]) + 100.0))


def _line(*corners: tuple[float, float]) -> np.ndarray:
    return _plane(np.array(corners) + FAR)


def _refusal(survey: Any) -> str:
    with pytest.raises(InputError) as caught:
        survey_surface(clean(survey, Unit.FOOT), Unit.FOOT)
    return str(caught.value)


# --- duplicates -------------------------------------------------------------------------------


def test_duplicates_that_agree_are_averaged(survey_of: Any) -> None:
    shots = np.array([[0, 0, 10.0], [9, 0, 11.0], [0, 9, 12.0], [9.03, 0, 11.06], [0, 0, 10.0]])
    cleaned = clean(survey_of(shots), Unit.FOOT)
    np.testing.assert_allclose(cleaned.xyz, [[0, 0, 10.0], [9.015, 0, 11.03], [0, 9, 12.0]])
    assert cleaned.names == ("1", "2", "3")
    assert cleaned.rows.tolist() == [2, 3, 4]
    assert cleaned.notes == (
        "points 1, 5 (rows 2, 6) are one place within 0.05 ft and were averaged; "
        "elevations differ by 0.00",
        "points 2, 4 (rows 3, 5) are one place within 0.05 ft and were averaged; "
        "elevations differ by 0.06",
    )


def test_a_chain_of_near_points_is_not_drawn_together(survey_of: Any) -> None:
    shots = [[0.04 * i, 0.0, 5.0] for i in range(10)] + [[0, 5, 5.0]]
    cleaned = clean(survey_of(shots), Unit.FOOT)
    assert len(cleaned.xyz) == 6
    assert np.ptp(cleaned.xyz[:5, 0]) > 0.3


def test_duplicates_that_disagree_are_refused_with_both_rows(survey_of: Any) -> None:
    shots = np.vstack((_plane(XY[:6]), _plane(XY[:1]) + np.array((0.02, 0.0, 0.5))))
    low = shots[0, 2]
    assert _refusal(survey_of(shots)) == (
        f"survey.csv, row 8: point 7 lies 0.02 ft from point 1 (row 2) but its elevation is "
        f"{low + 0.5:.2f} against {low:.2f}; delete or exclude the wrong one (shots within 0.05 ft "
        "are averaged only when they agree within 0.1 ft)"
    )


def test_metric_tolerances(survey_of: Any) -> None:
    shots = [[0, 0, 1.0], [0.014, 0, 1.02], [5, 0, 1.0], [0, 5, 1.0]]
    assert len(clean(survey_of(shots), Unit.METRE).xyz) == 3
    shots[1][2] = 1.04
    with pytest.raises(InputError, match=r"1\.040 against 1\.000"):
        clean(survey_of(shots), Unit.METRE)


@pytest.mark.parametrize(
    ("shots", "message"),
    [
        (
            [[0, 0, 1.0], [5, 5, 2.0]],
            "survey.csv: 2 shots at distinct places; a surface needs at least three, not on one "
            "line",
        ),
        (
            [[0.7 * i, 0.3 * i, float(i)] for i in range(5)],
            "survey.csv: all 5 shots lie on one line; a surface needs shots on both sides of it: "
            "take some off the line",
        ),
        (
            [[0, 0, 1.0]] * 7,
            "survey.csv: 1 shots at distinct places; a surface needs at least three, not on one "
            "line",
        ),
    ],
)
def test_too_little_for_a_surface(survey_of: Any, shots: Any, message: str) -> None:
    assert _refusal(survey_of(shots)) == message


# --- exclusions -------------------------------------------------------------------------------


def test_excluded_shots_are_left_out_with_their_reason(survey_of: Any) -> None:
    survey = survey_of(_plane(XY[:10]))
    rest = without_excluded(survey, [Exclusion(point="4", reason="rod slipped")])
    assert "4" not in rest.names
    assert len(rest.xyz) == 9
    assert rest.notes == ("point 4 (row 5) excluded: rod slipped",)


def test_an_exclusion_that_names_no_shot_is_refused(survey_of: Any) -> None:
    with pytest.raises(InputError) as caught:
        without_excluded(survey_of(_plane(XY[:10])), [Exclusion(point="7a", reason="?")])
    assert str(caught.value) == (
        "site.toml, survey.exclude: no shot is called '7a' (the closest name is '7'); name a "
        "point of the survey, or take the exclusion out"
    )


def test_a_corner_of_the_surveyors_faces_cannot_be_excluded(survey_of: Any) -> None:
    survey = survey_of(_plane(XY[:4]), faces=np.array([[0, 1, 2]]))
    with pytest.raises(InputError, match="point '2' is a corner of the survey's own triangles"):
        without_excluded(survey, [Exclusion(point="2", reason="?")])
    assert without_excluded(survey, [Exclusion(point="4", reason="?")]).faces.tolist() == [
        [0, 1, 2]
    ]


# --- breaklines -------------------------------------------------------------------------------


def _sides(surface: Surface) -> set[tuple[int, int]]:
    pairs = surface.triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    return {(min(a, b), max(a, b)) for a, b in pairs.tolist()}


def test_breaklines_are_edges_and_cross_at_a_vertex(survey_of: Any) -> None:
    lines = (_line((10, 10), (90, 80), (95, 10)), _line((10, 80), (90, 10)))
    given = shapely.union_all([shapely.linestrings(line[:, :2]) for line in lines])
    clear = XY[shapely.distance(given, shapely.points(XY)) > 0.1]
    surface = survey_surface(survey_of(_plane(clear), breaklines=lines), Unit.FOOT)
    assert {(min(a, b), max(a, b)) for a, b in surface.breaks.tolist()} <= _sides(surface)
    drawn = shapely.union_all(shapely.linestrings(surface.vertices[surface.breaks][:, :, :2]))
    assert shapely.hausdorff_distance(drawn, given) < 1e-6
    assert drawn.length == pytest.approx(given.length, abs=1e-6)
    # the crossing of (10, 10)-(90, 80) and (10, 80)-(90, 10) is (50, 45), by symmetry
    nearest = np.abs(surface.vertices[:, :2] - FAR - (50.0, 45.0)).sum(axis=1).min()
    assert nearest < 1e-6
    places = RNG.uniform(10.0, 90.0, (2000, 2)) + FAR
    np.testing.assert_allclose(surface.elevation(places), _plane(places)[:, 2], atol=1e-6)


def test_a_ditch_keeps_its_depth_between_shots(survey_of: Any) -> None:
    """A ditch 1 ft deep between two rows of shots: only the breakline knows of it."""
    x, y = np.meshgrid(np.arange(0.0, 101.0, 20.0), np.arange(0.0, 101.0, 20.0))
    shots = np.column_stack((x.ravel(), y.ravel(), np.full(x.size, 50.0)))
    ditch = np.array([[10.0, 5.0, 49.0], [10.0, 95.0, 49.0]])
    surface = survey_surface(survey_of(shots, breaklines=(ditch,)), Unit.FOOT)
    along = np.column_stack((np.full(50, 10.0), np.linspace(5.0, 95.0, 50)))
    np.testing.assert_allclose(surface.elevation(along), 49.0, atol=1e-9)
    assert survey_surface(survey_of(shots), Unit.FOOT).elevation(along).min() == pytest.approx(50.0)


def test_crossing_breaklines_that_disagree_are_both_named(survey_of: Any) -> None:
    lines = (_line((10, 10), (90, 80)), _line((10, 80), (90, 10)) + np.array((0, 0, 0.5)))
    shots = _plane(np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]]) + FAR)
    assert _refusal(survey_of(shots, breaklines=lines)) == (
        "survey.csv: breakline 1 is at elevation 105.00 where breakline 2 crosses it at elevation "
        "105.50 (northing 1000045.00, easting 2000050.00); correct one of them so that they agree "
        "within 0.1 ft"
    )


def test_a_breakline_point_at_a_shot_must_have_its_elevation(survey_of: Any) -> None:
    shots = _plane(XY[:20])
    line = np.vstack((_line((10, 10)), shots[5:6] + np.array((0, 0, 1.0))))
    message = _refusal(survey_of(shots, breaklines=(line,)))
    assert message.startswith("survey.csv: breakline 1 point 2 is at elevation ")
    assert "where point 6 (row 7) is at the same place at elevation" in message


def test_a_shot_on_a_breakline_must_have_its_elevation(survey_of: Any) -> None:
    shots = np.vstack((_plane(XY[:20]), _line((50, 50)) + np.array((0, 0.01, 0.3))))
    message = _refusal(survey_of(shots, breaklines=(_line((10, 50), (90, 50)),)))
    assert message.startswith(
        "survey.csv: breakline 1 is at elevation 105.00 where point 21 (row 22)"
    )


def test_three_lines_through_one_point_make_one_vertex(survey_of: Any) -> None:
    lines = tuple(
        _line(a, b) for a, b in (((0, 0), (60, 60)), ((0, 60), (60, 0)), ((30, 0), (30, 60)))
    )
    shots = _line((-5, -5), (65, -5), (65, 65), (-5, 65))
    surface = survey_surface(survey_of(shots, breaklines=lines), Unit.FOOT)
    middle = np.abs(surface.vertices[:, :2] - FAR - 30.0).max(axis=1) < 0.01
    assert middle.sum() == 1


# --- voids and faces --------------------------------------------------------------------------

RINGS = (
    np.array([[30, 30], [60, 35], [50, 70], [20, 60]]) + FAR,
    np.array([[80, 80], [160, 80], [160, 90], [80, 90], [80, 80]]) + FAR,
)


def test_voids_are_cut_out_and_nothing_else_changes(survey_of: Any) -> None:
    shots = np.column_stack((XY, RNG.normal(size=len(XY))))
    whole = survey_surface(survey_of(shots), Unit.FOOT)
    cut = survey_surface(survey_of(shots, voids=RINGS), Unit.FOOT)
    void = shapely.union_all([shapely.polygons(ring) for ring in RINGS])
    left = shapely.difference(whole.outline, void)
    assert shapely.symmetric_difference(cut.outline, left).area < 1e-6
    places = RNG.uniform(-5.0, 105.0, (20_000, 2)) + FAR
    outside = ~shapely.contains_xy(void, places)
    np.testing.assert_allclose(
        cut.elevation(places[outside]), whole.elevation(places[outside]), atol=1e-7
    )
    assert np.isnan(cut.elevation(places[~outside])).all()


def test_voids_leave_breaklines_in_place(survey_of: Any) -> None:
    line = _line((5, 5), (95, 95))
    surface = survey_surface(survey_of(_plane(XY), breaklines=(line,), voids=RINGS), Unit.FOOT)
    ends = surface.vertices[surface.breaks][:, :, :2] - FAR
    np.testing.assert_allclose(ends[..., 0], ends[..., 1], atol=0.06)


def test_the_surveyors_own_faces_are_used(survey_of: Any) -> None:
    """The long diagonal, which Delaunay would not choose, and one face given clockwise."""
    shots = np.array([[0, 0, 0], [10, -3, 1], [20, 0, 0], [10, 3, 1.0]])
    faces = np.array([[0, 1, 2], [0, 3, 2]])
    surface = survey_surface(survey_of(shots, faces=faces), Unit.FOOT)
    assert surface.elevation(np.array([[10.0, 0.0]]))[0] == pytest.approx(0.0)
    assert Surface.from_points(shots).elevation(np.array([[10.0, 0.0]]))[0] == pytest.approx(1.0)
