"""Coordinate systems against published worked examples; placing and localising a survey."""

from __future__ import annotations

import math

import numpy as np
import pytest

from dripfield.core.crs import check_crs_unit, grid_ground, parse_crs, transformation
from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.survey.place.localise import localise

OREGON = "EPSG:6559"  # NAD83(2011) / Oregon North (ft), international feet
TEXAS = "EPSG:32040"  # NAD27 / Texas South Central, US survey feet


def line_of(call) -> str:
    with pytest.raises(InputError) as caught:
        call()
    return str(caught.value)


class TestPublished:
    """EPSG Guidance Note 7-2 (as carried on epsg.io) and the definitions of the feet."""

    def test_lambert_two_parallels(self):
        carry, note = transformation(np.array([[-96.0, 28.5]]), "EPSG:4267", TEXAS)
        xy = carry(np.array([[-96.0, 28.5]]))
        assert np.allclose(xy, [[2963503.91, 254759.80]], rtol=0, atol=0.005)
        assert note == (
            "NAD27 to NAD27 / Texas South Central by Texas CS27 South Central zone: exact"
        )
        back, _ = transformation(xy, TEXAS, "EPSG:4267")
        assert np.allclose(back(xy), [[-96.0, 28.5]], rtol=0, atol=1e-8)

    def test_lambert_one_parallel(self):
        place = np.array([[-(76 + 56 / 60 + 37.26 / 3600), 17 + 55 / 60 + 55.80 / 3600]])
        carry, _ = transformation(place, "EPSG:4242", "EPSG:24200")  # Jamaica National Grid
        assert np.allclose(carry(place), [[255966.58, 142493.51]], rtol=0, atol=0.005)

    def test_scale_and_convergence(self):
        """Convergence by hand from the example's theta; scale from its n, r and the ellipsoid."""
        found = grid_ground(TEXAS, np.array((2963503.91, 254759.80)), 0.0, Unit.SURVEY_FOOT)
        theta = 0.02565177
        assert found.convergence == pytest.approx(math.degrees(theta), abs=1e-5)
        n, r, latitude = 0.48991263, 37565039.86, math.radians(28.5)
        a, e2 = 20925832.16, 2 / 294.97870 - 1 / 294.97870**2
        m = math.cos(latitude) / math.sqrt(1 - e2 * math.sin(latitude) ** 2)
        assert found.grid_scale == pytest.approx(n * r / (a * m), abs=2e-8)
        assert found.combined == found.grid_scale

    def test_elevation_factor(self):
        """Hand-derived: 1000 m above a sphere of 6,372,000 m shortens by 1 in 6373."""
        found = grid_ground("EPSG:32610", np.array((500000.0, 5000000.0)), 1000.0, Unit.METRE)
        assert found.elevation_factor == pytest.approx(1 - 1 / 6373, abs=1e-12)
        assert found.grid_scale == pytest.approx(0.9996, abs=1e-9)  # UTM's on its meridian
        assert found.describe() == (
            "grid to ground: combined factor 0.99944315 (scale 0.99960000, elevation 0.99984309; "
            "100 on the ground is 99.9443 on the grid); grid north is 0.0000° east of true north"
        )

    def test_feet(self):
        """85 FR 62698: 0.3048 m; the survey foot 1200/3937 m (definition from memory)."""
        assert Unit.FOOT.metres == 0.3048
        ratio = Unit.SURVEY_FOOT.metres / Unit.FOOT.metres
        assert ratio == pytest.approx(1.000002000004, abs=1e-12)
        assert (ratio - 1) * 2_000_000 == pytest.approx(4.000008, abs=1e-6)


class TestUnitsAgainstAxes:
    def test_agreement_is_silent(self):
        check_crs_unit(OREGON, Unit.FOOT)
        check_crs_unit(TEXAS, Unit.SURVEY_FOOT)
        check_crs_unit("EPSG:32610", Unit.METRE)

    def test_the_two_feet_are_told_apart_with_the_difference_here(self):
        xy = np.array([[2_000_000.0, 700_000.0]])
        assert line_of(lambda: check_crs_unit(TEXAS, Unit.FOOT, xy)) == (
            "site.toml, [site] units: the site's units are ft (international) and the coordinates "
            "of EPSG:32040 (NAD27 / Texas South Central) are in US survey ft (the two put a "
            "coordinate of 2,000,000 ft 4.00 ft apart); correct units or crs"
        )

    def test_other_mistakes(self):
        assert line_of(lambda: check_crs_unit(OREGON, Unit.METRE)) == (
            "site.toml, [site] units: the site's units are m and the coordinates of EPSG:6559 "
            "(NAD83(2011) / Oregon North (ft)) are in ft (international); correct units or crs"
        )
        assert line_of(lambda: check_crs_unit("EPSG:4326", Unit.METRE)) == (
            "site.toml, [site] crs: EPSG:4326 (WGS 84) is not a projected system; name the "
            "projected system of the site's coordinates"
        )
        assert line_of(lambda: parse_crs("EPSG:99999999", "[site] crs")) == (
            "site.toml, [site] crs: 'EPSG:99999999' is not a known coordinate system; give its "
            'code, as in crs = "EPSG:6559"'
        )
        assert line_of(lambda: check_crs_unit("EPSG:6559+6360", Unit.FOOT)) == (
            "site.toml, [site] units: the site's units are ft (international) and the elevations "
            "of EPSG:6559+6360 (NAD83(2011) / Oregon North (ft) + NAVD88 height (ftUS)) are in US "
            "survey ft; correct units or crs"
        )


class TestTransformations:
    PLACE = np.array([[-122.6, 45.5]])

    def test_stated_accuracy_is_told(self):
        _, note = transformation(self.PLACE, "EPSG:4326", OREGON)
        assert note == (
            "WGS 84 to NAD83(2011) / Oregon North (ft) by Inverse of NAD83(2011) to WGS 84 (1) + "
            "SPCS83 Oregon North zone (international foot): approximate (±2 m stated)"
        )

    def test_a_better_one_that_is_not_installed_is_told(self):
        place = np.array([[-96.0, 28.5]])
        _, note = transformation(place, "EPSG:4326", TEXAS)
        assert note.startswith("WGS 84 to NAD27 / Texas South Central by Inverse of NAD27 to WGS")
        assert note.endswith("would be better and is not installed")

    def test_guesses_are_refused(self):
        assert line_of(lambda: transformation(self.PLACE, "EPSG:4267", OREGON)) == (
            "site.toml, [survey] crs: NAD27 to NAD83(2011) / Oregon North (ft) can only be "
            "guessed at here (no shift between their datums is installed, and the guess may be "
            "off by many feet); give the survey in the site's own crs"
        )

    def test_same_system_leaves_numbers_alone(self):
        xy = np.array([[7654321.123456789, 123456.987654321]])
        carry, note = transformation(xy, OREGON, OREGON)
        assert note is None
        assert (carry(xy) == xy).all()

    def test_points_off_the_map(self):
        swapped = np.array([[45.5, -122.6]])
        assert line_of(lambda: transformation(swapped, "EPSG:4326", "EPSG:32610")[0](swapped)) == (
            "site.toml, [survey] crs: the point 45.5, -122.6 (x, y) of WGS 84 has no place in "
            "WGS 84 / UTM zone 10N; check the order of the columns and both coordinate systems"
        )


def csv(path, rows, header="point,northing,easting,elevation\n"):
    path.write_text(header + "".join(",".join(map(str, row)) + "\n" for row in rows))
    return path


class TestPlacing:
    def test_rover_degrees_into_the_sites_system(self, tmp_path, read):
        """The EPSG example's place, as a rover writes it."""
        path = csv(tmp_path / "a.csv", [(1, 28.5, -96.0, 12.5)], "pt,latitude,longitude,h\n")
        survey = read(path, Unit.SURVEY_FOOT, given={"crs": TEXAS}, crs="EPSG:4267")
        assert np.allclose(survey.xyz, [[2963503.91, 254759.80, 12.5]], rtol=0, atol=0.005)
        assert survey.notes[0].endswith("exact")
        assert survey.notes[1].startswith("grid to ground: combined factor 0.99996")

    def test_order_with_a_geographic_survey_crs(self, tmp_path, read):
        path = csv(tmp_path / "a.csv", [(1, 28.5, -96.0, 12.5)], "")
        survey = read(path, Unit.SURVEY_FOOT, given={"crs": TEXAS}, crs="EPSG:4267", order="PNEZ")
        assert np.allclose(survey.xyz, [[2963503.91, 254759.80, 12.5]], rtol=0, atol=0.005)

    def test_degrees_without_a_site_system(self, tmp_path, refusal):
        path = csv(tmp_path / "a.csv", [(1, 28.5, -96.0, 12.5)], "pt,lat,lon,h\n")
        assert refusal(path) == (
            "a.csv: its coordinates are in EPSG:4326 and the site names no system to carry them "
            'into; add crs = "EPSG:…" under [site] in site.toml, or crs = "site" under [survey] '
            "where they are the site's own"
        )

    SHOTS = ((1, 675300.0, 7663700.0, 100.0), (2, 675400.0, 7663900.0, 104.0))

    def test_grid_to_ground_is_shown_and_applied_only_when_asked(self, tmp_path, read):
        path = csv(tmp_path / "a.csv", self.SHOTS)
        plain = read(path, given={"crs": OREGON})
        assert plain.xyz.tolist() == [[e, n, z] for _, n, e, z in self.SHOTS]
        assert len(plain.notes) == 1
        combined = grid_ground(OREGON, np.array((7663800.0, 675350.0)), 102.0, Unit.FOOT).combined
        for scale, factor in (("combined", 1 / combined), (1.0001, 1.0001)):
            survey = read(path, given={"crs": OREGON}, ground_scale=scale)
            lengths = [np.hypot(*np.diff(s.xyz[:, :2], axis=0)[0]) for s in (plain, survey)]
            assert lengths[1] / lengths[0] == pytest.approx(factor, abs=1e-9)
            assert np.allclose(survey.xyz.mean(axis=0), plain.xyz.mean(axis=0))
            assert (survey.xyz[:, 2] == plain.xyz[:, 2]).all()
            assert survey.notes[1] == (
                f"stretched from grid to ground by {factor:.8f} about northing 675350.00, easting "
                "7663800.00, as ground_scale says"
            )

    def test_combined_needs_a_system(self, tmp_path, refusal):
        assert refusal(csv(tmp_path / "a.csv", self.SHOTS), ground_scale="combined") == (
            "site.toml, [survey] ground_scale: the factor cannot be computed without a coordinate "
            'system; add crs = "EPSG:…" under [site], or give the factor as a number'
        )

    def test_magnetic_declination_is_stated(self, tmp_path, read):
        survey = read(csv(tmp_path / "a.csv", self.SHOTS), magnetic_declination=-3.5)
        assert survey.notes == (
            "magnetic north is stated 3.5° west of true north; bearings are from grid north",
        )

    def test_elevation_unit_where_plan_is_in_the_sites_unit(self, tmp_path, refusal):
        assert refusal(csv(tmp_path / "a.csv", self.SHOTS), elevation_unit="m") == (
            "site.toml, [survey] elevation_unit: elevations are in the site's unit, ft "
            "(international), as plan coordinates are; remove elevation_unit, or convert the file"
        )

    def test_wrong_foot_is_caught_when_the_survey_is_read(self, tmp_path, refusal):
        line = refusal(csv(tmp_path / "a.csv", self.SHOTS), Unit.SURVEY_FOOT, {"crs": OREGON})
        assert "(the two put a coordinate of 7,663,900 ft 15.33 ft apart)" in line


LOCAL = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 60.0], [0.0, 60.0]])


def carried(xy, clockwise: float, scale: float, shift):
    turn = math.radians(clockwise)
    turned = np.column_stack(
        (
            xy[:, 0] * math.cos(turn) + xy[:, 1] * math.sin(turn),
            xy[:, 1] * math.cos(turn) - xy[:, 0] * math.sin(turn),
        )
    )
    return scale * turned + shift


class TestLocalise:
    @pytest.mark.parametrize("clockwise", [0.0, 30.0, -75.5, 179.0])
    @pytest.mark.parametrize("count", [2, 4])
    def test_recovers_an_exact_similarity(self, clockwise, count):
        known = carried(LOCAL, clockwise, 1.00012, (7663000.0, 675000.0))
        fit = localise(LOCAL[:count], known[:count])
        assert fit.rotation == pytest.approx(clockwise, abs=1e-7)
        assert fit.scale == pytest.approx(1.00012, abs=1e-9)
        assert np.allclose(fit.apply(LOCAL), known, rtol=0, atol=1e-6)
        assert np.abs(fit.residuals).max() < 1e-8

    def test_least_squares_against_scipy(self):
        """The same fit by scipy's general optimiser."""
        from scipy.optimize import least_squares

        rng = np.random.default_rng(4)
        known = carried(LOCAL, 12.0, 0.9999, (500.0, 300.0)) + rng.normal(0, 0.03, (4, 2))
        fit = localise(LOCAL, known)

        def off(p):
            a, b, east, north = p
            x, y = LOCAL.T
            return np.concatenate(
                (a * x + b * y + east - known[:, 0], a * y - b * x + north - known[:, 1])
            )

        best = least_squares(off, (1.0, 0.0, 0.0, 0.0), xtol=1e-15, ftol=1e-15, gtol=1e-15)
        assert fit.scale == pytest.approx(math.hypot(*best.x[:2]), abs=1e-8)
        assert fit.rotation == pytest.approx(math.degrees(math.atan2(best.x[1], best.x[0])), 1e-7)
        assert (fit.residuals**2).sum() == pytest.approx(2 * best.cost, rel=1e-7)

    def test_too_little_to_go_by(self):
        with pytest.raises(ValueError, match=r"^two pairs of points or more are needed$"):
            localise(LOCAL[:1], LOCAL[:1])
        with pytest.raises(ValueError, match=r"^the local points lie in one place$"):
            localise(LOCAL[[0, 0]], LOCAL[:2])

    def site(self, folder, spoil=0.0, count=3, scale=1.0, rise=500.0):
        """A local survey and its control points; ``spoil`` moves the last one east."""
        rows = [(f"CP{i}", n, e, 100.0 + i) for i, (e, n) in enumerate(LOCAL)]
        survey = csv(folder / "survey.csv", [*rows, ("s", 30.0, 50.0, 101.0)])
        known = carried(LOCAL, 30.0, scale, (7663000.0, 675000.0))
        known[count - 1, 0] += spoil
        control = csv(
            folder / "control.csv",
            [(f"CP{i}", n, e, 100.0 + i + rise) for i, (e, n) in enumerate(known[:count])],
        )
        return survey, control

    def test_a_survey_is_carried_by_its_control_points(self, tmp_path, read):
        survey, control = self.site(tmp_path)
        placed = read(survey, given={"control": control})
        expected = carried(np.array([[50.0, 30.0]]), 30.0, 1.0, (7663000.0, 675000.0))[0]
        assert np.allclose(placed.xyz[4], [*expected, 601.0], rtol=0, atol=1e-6)
        assert placed.notes[0].startswith(
            "localised on 3 control points: turned +30.00000° clockwise, scale 1.00000000, shifted"
        )
        assert placed.notes[0].endswith("CP2 +0.000 E +0.000 N +0.000 up")

    def test_two_points_leave_no_check(self, tmp_path, read):
        survey, control = self.site(tmp_path, count=2)
        assert read(survey, given={"control": control}).notes[1] == (
            "two control points leave no check in plan: a third would"
        )

    def test_residuals_beyond_the_limit(self, tmp_path, read, refusal):
        survey, control = self.site(tmp_path, spoil=0.9, count=4)
        # hand-derived: a corner of a rectangle has a half of its own say in the fit (a quarter in
        # the shift, a quarter in turn and scale), so a half of 0.9 is left over
        assert refusal(survey, given={"control": control}) == (
            "control.csv, row 5: control point CP3 misses its place by 0.450 ft in plan, more than "
            "0.1; check that point, or allow more with control_tolerance under [survey]"
        )
        placed = read(survey, given={"control": control}, control_tolerance=1.0)
        assert "CP3 -" in placed.notes[0]

    def test_wrong_unit_shows_as_a_scale(self, tmp_path, refusal):
        survey, control = self.site(tmp_path, scale=0.3048)
        assert refusal(survey, given={"control": control}) == (
            "control.csv: the survey fits its control points only when scaled by 0.304800; check "
            "the unit of both files and the names of the control points"
        )

    def test_control_points_in_one_place(self, tmp_path, refusal):
        survey, control = self.site(tmp_path, count=2)
        csv(survey, [("CP0", 5, 5, 100), ("CP1", 5, 5, 101)])
        assert refusal(survey, given={"control": control}) == (
            "survey.csv: the control points CP0, CP1 lie in one place; correct the survey"
        )

    def test_names_that_do_not_match(self, tmp_path, refusal):
        survey, control = self.site(tmp_path)
        control.write_text(control.read_text().replace("CP", "GPS"))
        assert refusal(survey, given={"control": control}) == (
            "control.csv: the survey holds 0 of its 3 control points by name; name two or more as "
            "the survey does"
        )
        survey, control = self.site(tmp_path)
        survey.write_text(survey.read_text() + "CP1,0,101,101\n")
        assert refusal(survey, given={"control": control}) == (
            "survey.csv, row 7: control point CP1 is there twice; keep one of them"
        )
