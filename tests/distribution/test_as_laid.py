"""The water of what was laid, held against what statics and counting say."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from water_site import rows, without, write_site

from dripfield.cli import main
from dripfield.core.units import Unit
from dripfield.design.lay_out import lay_out
from dripfield.design.model import Design
from dripfield.distribution.as_laid import LaidLine, LaidWater, water_as_laid, water_table
from dripfield.hydraulics.build import DOSE
from dripfield.hydraulics.quantities import quantities
from dripfield.site.reader import read_site


@pytest.fixture(scope="module")
def design(tmp_path_factory: pytest.TempPathFactory) -> Design:
    return lay_out(read_site(write_site(tmp_path_factory.mktemp("laid"))))


def laid(design: Design, down: float = 0.0, short: float = 0.0) -> list[LaidLine]:
    """Every lateral as designed, but for the last: lower, and cut short at its end."""
    lines = []
    for lateral in design.layout.laterals:
        last = lateral is design.layout.laterals[-1]
        xy = lateral.xy.copy()
        if last:
            way = xy[-1] - xy[0]
            xy[-1] -= short * way / np.hypot(*way)
        z = np.full(len(xy), lateral.elevation - down * last)
        lines.append(LaidLine(lateral.name, np.column_stack((xy, z))))
    return lines


def solve(design: Design, lines: list[LaidLine]) -> LaidWater:
    water = water_as_laid(design, lines)
    assert water is not None
    return water


def test_laid_as_designed_the_water_is_that_of_the_design(design: Design) -> None:
    water = solve(design, laid(design))
    for row in water_table(water).records():
        assert row["laid"] == pytest.approx(row["design"], rel=1e-6, abs=1e-6)
    assert water.word == ("pass" if not water.design.not_proven else "not proven")


def test_a_lateral_laid_lower_has_the_pressure_of_that_much_water_more(design: Design) -> None:
    """Statics: while emitters keep their flow, a foot lower is the weight of a foot of water."""
    before, after = solve(design, laid(design)), solve(design, laid(design, down=3.0))
    q = quantities(Unit.FOOT)
    name = design.layout.laterals[-1].name

    def greatest(water: LaidWater) -> float:
        found = []
        assert water.laid.simulation is not None
        for zone in water.laid.plan.zones:
            state = water.laid.simulation.get(zone.name, DOSE)
            assert state is not None
            on = np.array([lateral == name for lateral in state.network.laterals])
            found += list(state.pressure[on])
        return max(found)

    rise = greatest(after) - greatest(before)
    assert q.pressure == "psi"
    assert rise == pytest.approx(3.0 * 0.4335, rel=0.01)  # psi in a foot of water: NIST SP 811


def test_a_lateral_laid_short_has_fewer_emitters(design: Design) -> None:
    before, after = solve(design, laid(design)), solve(design, laid(design, short=20.0))
    count = [sum(j.emitters for z in w.laid.plan.zones for j in z.joined) for w in (before, after)]
    assert count[0] - count[1] == 10  # emitters every 2 ft


def test_which_way_the_shots_were_taken_does_not_matter(design: Design) -> None:
    turned = [LaidLine(one.name, one.xyz[::-1]) for one in laid(design, down=0.3)]
    there, back = solve(design, laid(design, down=0.3)), solve(design, turned)
    assert water_table(there).records() == water_table(back).records()


def test_what_shots_do_not_tell_is_not_proven(design: Design) -> None:
    water = solve(design, laid(design)[1:])
    assert water.word == "not proven"
    assert water.as_designed == (design.layout.laterals[0].name,)
    assert water.as_designed[0] in next(iter(water.lines()))


def test_record_writes_it_and_a_missing_pump_is_named(tmp_path: Path, design: Design) -> None:
    site = write_site(tmp_path / "site")
    shots = [
        f"{lateral.name}-{k},{n},{e},{lateral.elevation},{lateral.name}"
        for lateral in design.layout.laterals
        for k, (e, n) in enumerate(np.linspace(lateral.xy[0], lateral.xy[-1], 13))
    ]
    text = "point,northing,easting,elevation,description\n" + "\n".join(shots)
    (tmp_path / "shots.csv").write_text(text)

    def record(out: str) -> str:
        shots_file = str(tmp_path / "shots.csv")
        run = CliRunner().invoke(
            main, ["record", str(site), "--shots", shots_file, "--out", str(tmp_path / out)]
        )
        assert run.exit_code == 0, run.output
        return " ".join(run.output.split())

    said = record("all")
    assert "water of what was laid, with the pump and pipe of the design" in said
    assert len(rows(tmp_path / "all/water_as_laid.csv")) == 24  # 2 zones, 2 states, 6 figures
    assert {row["state"] for row in rows(tmp_path / "all/hydraulics_as_laid.csv")} == {
        "dose",
        "flush",
    }
    (site / "site.toml").write_text(without("pump"))
    said = record("none")
    assert "water of what was laid: not proven: missing: [pump] curve" in said
    assert not (tmp_path / "none/water_as_laid.csv").exists()
