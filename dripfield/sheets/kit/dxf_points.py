"""Very many points in a drawing, written as text without an object for each."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dripfield.core.arrays import Floats

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Modelspace

_POINT = (
    "  0\nPOINT\n  5\n{0}\n330\n{1}\n100\nAcDbEntity\n  8\n{2}\n100\nAcDbPoint\n"
    " 10\n{3}\n 20\n{4}\n 30\n{5}\n"
)
_PART = 10_000  # points written at once


def add_points(space: Modelspace, xyz: Floats, layer: str) -> None:
    """Draw points (n, 3) [drawing unit] on a layer.

    The file is the same as with ``space.add_point`` for each; in memory they are one entity.

    Parameters
    ----------
    space : ezdxf Modelspace
    xyz : (n, 3) float array
        [drawing unit]
    layer : str
    """
    from ezdxf.entities.point import Point

    if not len(xyz):
        return
    assert space.doc is not None
    handles = space.doc.entitydb.handles

    class Points(Point):
        """One point that writes all of them."""

        def export_dxf(self, tagwriter: Any) -> None:
            names = [self.dxf.handle, *more]
            for start in range(0, len(names), _PART):
                rows = zip(
                    names[start : start + _PART], xyz[start : start + _PART].tolist(), strict=True
                )
                owner = self.dxf.owner
                tagwriter.write_str(
                    "".join(_POINT.format(name, owner, layer, *place) for name, place in rows)
                )

    one = Points.new(dxfattribs={"layer": layer, "location": xyz[0].tolist()}, doc=space.doc)
    space.add_entity(one)
    more = [handles.next() for _ in range(len(xyz) - 1)]
