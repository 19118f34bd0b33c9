"""The staking drawing plotted by a CAD program that shares no code with the one that wrote it.

LibreCAD's converter (Debian's package ``librecad``) makes a PDF of the DXF; its strokes are
measured. Skipped where the program is not on the path.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pypdf
import pytest

from dripfield.outputs.layout import write_layout_files

LIBRECAD = shutil.which("librecad")

pytestmark = pytest.mark.skipif(LIBRECAD is None, reason="needs librecad on the path")


def plotted(field, folder: Path) -> np.ndarray:
    """Every stroke of the plot, (k, 2, 2), in units of the PDF's own."""
    write_layout_files(field, folder)
    runtime = folder / "runtime"
    runtime.mkdir(mode=0o700)
    own = {"QT_QPA_PLATFORM": "offscreen", "HOME": str(runtime), "XDG_RUNTIME_DIR": str(runtime)}
    command = [str(LIBRECAD), "dxf2pdf", "--fit", "--monochrome", "--paper", "431.8x279.4"]
    subprocess.run(
        [*command, str(folder / "staking.dxf")],
        env=os.environ | own,
        check=True,
        capture_output=True,
        timeout=120,
    )
    (page,) = pypdf.PdfReader(folder / "staking.pdf").pages
    strokes, last = [], None
    for line in page.get_contents().get_data().decode("latin-1").splitlines():
        if found := re.fullmatch(r"(-?[\d.]+) (-?[\d.]+) ([ml])", line.strip()):
            place = (float(found[1]), float(found[2]))
            if found[3] == "l":
                strokes.append((last, place))
            last = place
    return np.array(strokes)


def test_laterals_and_bed_are_plotted_to_one_scale(plane, tmp_path):
    """Hand-derived: ten laterals of 78 ft, 2 ft apart, in a bed 80 ft wide and 20 ft deep."""
    strokes = plotted(plane, tmp_path)
    across, up = np.abs(strokes[:, 1] - strokes[:, 0]).T
    heights = strokes[:, 0, 1]
    (drop,) = np.unique(across[up == 0.0][_repeats(across[up == 0.0], 10)])
    laterals = np.unique(heights[(up == 0.0) & (across == drop)])
    foot = drop / 78.0
    np.testing.assert_allclose(np.diff(laterals) / foot, 2.0, rtol=0.005)
    wide = (up == 0.0) & np.isclose(across, 80.0 * foot, rtol=0.0005)
    deep = (across == 0.0) & np.isclose(up, 20.0 * foot, rtol=0.002)
    assert np.ptp(heights[wide]) / foot == pytest.approx(20.0, rel=0.002)
    assert deep.sum() >= 2


def _repeats(lengths: np.ndarray, count: int) -> np.ndarray:
    """Where a length over a tenth of the longest occurs exactly so many times."""
    values, number = np.unique(lengths, return_counts=True)
    return np.isin(lengths, values[(number == count) & (values > 0.1 * values.max())])


def test_an_awkward_drawing_plots_with_its_text(awkward, tmp_path):
    """Text is plotted as short strokes: many thousands for names, elevations and the table."""
    strokes = plotted(awkward, tmp_path)
    lengths = np.hypot(*(strokes[:, 1] - strokes[:, 0]).T)
    assert (lengths < 0.01 * lengths.max()).sum() > 50 * len(awkward.layout.laterals)
