"""A scan or photo of a plan, drawn pale under the lines of the overlay."""

from __future__ import annotations

from typing import Any

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.review.model.plan import Picture
from dripfield.sheets.kit.map_frame import MapFrame

_MOST = 1600  # pixels to a side
_PAGE_DPI = 150.0
_PALE = 0.55  # of the way from the picture to white


def draw_picture(axes: Any, frame: MapFrame, picture: Picture) -> None:
    """Draw a placed picture where it lies on the ground, within the map's window.

    Parameters
    ----------
    axes : matplotlib Axes
        In points of the sheet.
    frame : MapFrame
    picture : Picture
        Not drawn while it is not placed.
    """
    if picture.move is None:
        return
    from matplotlib.patches import Polygon
    from matplotlib.transforms import Affine2D

    image = _grey(picture)
    width, height = picture.size
    corners = frame.to_paper(
        picture.move.apply(np.array(((0.0, 0.0), (width, 0.0), (0.0, height))))
    )
    right, up = corners[1] - corners[0], corners[2] - corners[0]
    affine = np.array(
        ((right[0], up[0], corners[0, 0]), (right[1], up[1], corners[0, 1]), (0.0, 0.0, 1.0))
    )
    drawn = axes.imshow(
        image,
        cmap="gray",
        vmin=0.0,
        vmax=1.0,
        extent=(0.0, 1.0, 0.0, 1.0),
        origin="upper",
        aspect="auto",
        interpolation="bilinear",
        zorder=0.4,
        transform=Affine2D(affine) + axes.transData,
    )
    window = np.asarray(frame.window.exterior.coords)
    drawn.set_clip_path(Polygon(window, closed=True, transform=axes.transData))


def _grey(picture: Picture) -> Floats:
    """The picture in pale greys, 0 black to 1 white, (rows, columns)."""
    from PIL import Image, ImageOps

    if picture.page is not None:
        from dripfield.review.read.page import open_pdf

        document = open_pdf(picture.path)
        try:
            page = document[picture.page - 1]
            scale = min(_PAGE_DPI / 72.0, _MOST / max(page.get_size()))
            image = page.render(scale=scale).to_pil()
        finally:
            document.close()
    else:
        with Image.open(picture.path) as opened:
            image = ImageOps.exif_transpose(opened)
            if "A" in image.getbands():
                white = Image.new("RGBA", image.size, "white")
                image = Image.alpha_composite(white, image.convert("RGBA"))
            image = image.convert("L")
    image = image.convert("L")
    image.thumbnail((_MOST, _MOST))
    grey = np.asarray(image, dtype=np.float64) / 255.0
    pale: Floats = 1.0 - (1.0 - grey) * (1.0 - _PALE)
    return pale
