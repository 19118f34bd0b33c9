"""Outside diameters of pipe and tube by nominal size, and the foam insulation that goes on.

Foam insulation is labelled for the pipe that it fits: by the nominal size of copper tube, whose
outside diameter is an eighth of an inch over its name, or by iron-pipe size, which PVC pipe of
Schedule 40 shares. The same name is not the same diameter, so the diameter comes first.

Sources: PVC of Schedule 40, ASTM D1785; sewer pipe of SDR 35, ASTM D3034 (from memory; its wall is
the outside diameter over 35); copper tube, ASTM B88. Inches, of which one is 25.4 mm exactly.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass

from dripfield.core.errors import input_error

MM_PER_INCH = 25.4

SCHEDULE_40 = {  # nominal: (outside diameter, least wall) [in]
    "1/2 in": (0.840, 0.109),
    "3/4 in": (1.050, 0.113),
    "1 in": (1.315, 0.133),
    "1-1/4 in": (1.660, 0.140),
    "1-1/2 in": (1.900, 0.145),
    "2 in": (2.375, 0.154),
    "2-1/2 in": (2.875, 0.203),
    "3 in": (3.500, 0.216),
    "4 in": (4.500, 0.237),
    "6 in": (6.625, 0.280),
    "8 in": (8.625, 0.322),
}
SDR_35 = {"4 in": (4.215, 0.120), "6 in": (6.275, 0.180)}
COPPER_TUBE = {  # nominal: outside diameter [in]
    "1/2 in": 0.625,
    "5/8 in": 0.750,
    "3/4 in": 0.875,
    "1 in": 1.125,
    "1-1/4 in": 1.375,
    "1-1/2 in": 1.625,
    "2 in": 2.125,
    "2-1/2 in": 2.625,
    "3 in": 3.125,
    "3-1/2 in": 3.625,
    "4 in": 4.125,
    "5 in": 5.125,
    "6 in": 6.125,
}


@dataclass(frozen=True)
class Insulation:
    """Foam pipe insulation for one size of PVC pipe.

    Attributes
    ----------
    pipe : str
        Nominal size of the pipe.
    outside_diameter : float
        Of the pipe [in].
    copper_label : str or None
        Smallest nominal size of copper tube whose insulation goes on; None where the table has
        none.
    copper_bore : float or None
        The bore of that insulation: the copper tube's outside diameter [in].
    iron_pipe_label : str
        Iron-pipe size that fits directly (from memory: insulation is sold in these too).
    """

    pipe: str
    outside_diameter: float
    copper_label: str | None
    copper_bore: float | None
    iron_pipe_label: str

    @property
    def text(self) -> str:
        """The outside diameter first, then both labels."""
        copper = (
            f"labelled {self.copper_label} for copper tube ({self.copper_bore:.3f} in bore)"
            if self.copper_label
            else "no copper label is large enough"
        )
        return (
            f"for {self.outside_diameter:.3f} in ({self.outside_diameter * MM_PER_INCH:.1f} mm)"
            f" outside diameter: {copper}, or {self.iron_pipe_label} in iron-pipe size"
        )


def outside_diameter(size: str) -> float:
    """Outside diameter of Schedule 40 pipe by nominal size [in].

    Raises
    ------
    InputError
        A size that is not in the table, with the closest one that is.
    """
    return SCHEDULE_40[known_size(size)][0]


def bore(size: str) -> float:
    """Inside diameter of Schedule 40 pipe: outside less twice the least wall [in]."""
    outside, wall = SCHEDULE_40[known_size(size)]
    return outside - 2.0 * wall


def known_size(size: str) -> str:
    """The table's name of a nominal size, however its unit is written.

    Raises
    ------
    InputError
        A size that is not in the table, with the closest one that is.
    """
    plain = size.strip().rstrip('"').strip()
    if plain.endswith("in"):
        plain = plain[:-2].strip()
    name = f"{plain.replace(' ', '-')} in"
    if name in SCHEDULE_40:
        return name
    closest = difflib.get_close_matches(name, SCHEDULE_40, n=1, cutoff=0.0)[0]
    raise input_error(
        f"{size!r} is no size of Schedule 40 pipe in the table",
        f"the closest known is {closest!r}; the sizes are {', '.join(SCHEDULE_40)}",
    )


def rank(size: str) -> int:
    """Place of a nominal size from the smallest up."""
    return list(SCHEDULE_40).index(known_size(size))


def insulation_for(size: str) -> Insulation:
    """The foam insulation that goes on Schedule 40 pipe of a nominal size."""
    name = known_size(size)
    outside = SCHEDULE_40[name][0]
    label = next((one for one, bore_ in COPPER_TUBE.items() if bore_ >= outside), None)
    return Insulation(name, outside, label, COPPER_TUBE[label] if label else None, name)


def coupling_fits(size: str, kind: str, other: str) -> bool:
    """Whether a coupling for Schedule 40 pipe of one size goes on another pipe.

    Parameters
    ----------
    size : str
        Nominal size of the Schedule 40 pipe.
    kind : str
        The other pipe: ``Schedule 40`` or ``SDR 35``.
    other : str
        Its nominal size.

    Returns
    -------
    bool
        Whether the outside diameters agree within 0.01 in (a socket's own tolerance, from memory).

    Raises
    ------
    InputError
        A kind or size that is not in the tables.
    """
    tables = {"Schedule 40": SCHEDULE_40, "SDR 35": SDR_35}
    if kind not in tables or other not in tables[kind]:
        raise input_error(
            f"{kind} {other} is not in the tables of pipe",
            "give Schedule 40, or SDR 35 in 4 in or 6 in",
        )
    return abs(outside_diameter(size) - tables[kind][other][0]) <= 0.01
