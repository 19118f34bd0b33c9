"""A survey in memory: spot elevations and the lines that must be triangle edges."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from dripfield.core.arrays import Bools, Floats, Ints


@dataclass(frozen=True)
class Survey:
    """Spot elevations as read, in the site's unit and coordinates.

    Attributes
    ----------
    xyz : (n, 3) float array
        Easting, northing, elevation.
    names : tuple of str, length n
        Point names or numbers as the surveyor wrote them.
    descriptions : tuple of str, length n
    rows : (n,) int array
        Row of the file each shot stands in, from 1 as an editor counts.
    source : Path
        The file read.
    breaklines : tuple of (k, 3) float arrays
        Polylines that the surface must honour as triangle edges.
    voids : tuple of (k, 2) float arrays
        Rings inside which the survey says nothing.
    faces : (m, 3) int array or None
        The surveyor's own triangles, where the file carries them.
    notes : tuple of str
        What the reader wants said about it (averaged duplicates, excluded shots …).
    """

    xyz: Floats
    names: tuple[str, ...]
    descriptions: tuple[str, ...]
    rows: Ints
    source: Path
    breaklines: tuple[Floats, ...] = ()
    voids: tuple[Floats, ...] = ()
    faces: Ints | None = None
    notes: tuple[str, ...] = ()

    def only(self, keep: Bools, *notes: str) -> Survey:
        """The shots where ``keep`` (n,) is true, with further notes; faces on others are lost."""
        faces = self.faces
        if faces is not None:
            faces = (np.cumsum(keep) - 1)[faces[keep[faces].all(axis=1)]]
        kept = np.flatnonzero(keep).tolist()
        return replace(
            self,
            xyz=self.xyz[keep],
            names=tuple(self.names[i] for i in kept),
            descriptions=tuple(self.descriptions[i] for i in kept),
            rows=self.rows[keep],
            faces=faces,
            notes=self.notes + notes,
        )

    def moved(
        self,
        plan: Callable[[Floats], Floats],
        *notes: str,
        rise: float = 0.0,
        stretch: float = 1.0,
    ) -> Survey:
        """Plan points (k, 2) carried by ``plan``; heights times ``stretch``, plus ``rise``.

        Parameters
        ----------
        plan : callable
            Takes and gives (k, 2) float arrays of (easting, northing).
        *notes : str
            Added to the survey's.
        rise : float
            Added to every height [unit of the result].
        stretch : float
            Factor of every height.

        Returns
        -------
        Survey
        """

        def carry(line: Floats) -> Floats:
            return np.column_stack((plan(line[:, :2]), line[:, 2] * stretch + rise))

        return replace(
            self,
            xyz=carry(self.xyz),
            breaklines=tuple(carry(line) for line in self.breaklines),
            voids=tuple(plan(ring) for ring in self.voids),
            notes=self.notes + notes,
        )
