"""Six plans as small grey pictures: how they are made, and a command that renews the kept ones.

    PYTHONPATH=. python tests/sheets/plan_pictures.py

Look at every picture that changed before it is committed.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from PIL import Image
from shapely import box

from dripfield.core.units import Unit
from dripfield.sheets.kit.relief import show_relief
from dripfield.sheets.kit.style import drawing_defaults
from dripfield.sheets.plan.plan import Plan
from dripfield.site.model import Bed

_SPEC = importlib.util.spec_from_file_location("hand", Path(__file__).with_name("conftest.py"))
hand = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(hand)

FOLDER = Path(__file__).with_name("pictures")
DOTS = 60.0  # in an inch
NAMES = ("plane", "cone", "awkward", "metric", "terrace", "terrace_part")


def terrace():
    """A bed of 46,000 sq ft in the form of an L on a hand-made plane, a rock in it."""
    ring = [(0, 0), (300, 0), (300, 90), (130, 90), (130, 204), (0, 204)]
    bed = Bed(
        hand.Polygon(ring), keepouts=(box(200.0, 30.0, 224.0, 46.0),), keepout_names=("Rock",)
    )
    area = bed.open_area(1.0)
    lines = []
    for i in range(101):
        y = 202.0 - 2.0 * i
        whole = hand.intersection(hand.linestrings([(0.0, y), (300.0, y)]), area)
        for piece in hand.get_parts(whole):
            if piece.length > 5.0:
                name = f"L{len(lines) + 1:03d}"
                lines.append((name, "A", hand.get_coordinates(piece), 100.0 + 0.05 * y))
    return hand.make_field(
        lambda x, y: 100.0 + 0.05 * y, bed, lines, shots=15, name="Upper terrace"
    )


def picture(name: str) -> np.ndarray:
    """The plan of a name as grey levels from 0 to 255 (rows, columns)."""
    design = {
        "plane": hand.plane,
        "cone": hand.cone,
        "awkward": hand.awkward,
        "metric": lambda: hand.plane(unit=Unit.METRE, name="Alder meadow"),
        "terrace": terrace,
        "terrace_part": terrace,
    }[name]()
    plan = Plan(design, show_relief(design.ground, design.surface.surface))
    sheet = plan.part(0) if name.endswith("part") else plan.first
    sheet.figure.set_dpi(DOTS)
    with drawing_defaults():
        canvas = FigureCanvasAgg(sheet.figure)
        canvas.draw()
    colours = np.asarray(canvas.buffer_rgba(), dtype=float)[:, :, :3]
    return np.round(colours @ (0.299, 0.587, 0.114))


def kept(name: str) -> np.ndarray:
    """The picture that was kept."""
    return np.asarray(Image.open(FOLDER / f"{name}.png").convert("L"), dtype=float)


def save(path: Path, grey: np.ndarray) -> None:
    """Write grey levels as a PNG."""
    Image.fromarray(grey.clip(0, 255).astype(np.uint8)).save(path, optimize=True)


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for one in NAMES:
        save(FOLDER / f"{one}.png", picture(one))
