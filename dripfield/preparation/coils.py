"""The coil plan: from which coil each lateral is cut, with the fewest splices.

A lateral that fits into a coil is never spliced. One that is longer is refused, unless splices are
allowed: then it takes whole coils and a rest, which is the fewest splices there can be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dripfield.core.errors import input_error
from dripfield.preparation.packing import Packing, pack

_SAME = 1e-9


@dataclass(frozen=True)
class CoilPiece:
    """A length cut from a coil.

    Attributes
    ----------
    lateral : str
        What it is cut for.
    length : float
        With its tails and waste [site unit].
    part, parts : int
        Which part of the lateral it is, where that is spliced.
    """

    lateral: str
    length: float
    part: int = 1
    parts: int = 1

    @property
    def name(self) -> str:
        """``A-L03``, or ``A-L03 (1 of 2)``."""
        return self.lateral if self.parts == 1 else f"{self.lateral} ({self.part} of {self.parts})"


@dataclass(frozen=True)
class Coil:
    """One coil and the pieces cut from it, in the order of laying.

    ``size`` and ``left`` (what remains) are in the site's unit.
    """

    number: int
    size: float
    pieces: tuple[CoilPiece, ...]

    @property
    def left(self) -> float:
        """What remains of it [site unit]."""
        return self.size - sum(piece.length for piece in self.pieces)


@dataclass(frozen=True)
class CoilPlan:
    """All coils of one kind of tubing.

    Attributes
    ----------
    coils : tuple of Coil
    splices : int
        None can be fewer while every piece that fits a coil is cut whole.
    packing : Packing
    """

    coils: tuple[Coil, ...]
    splices: int
    packing: Packing

    @property
    def length(self) -> float:
        """Of all pieces [site unit]."""
        return sum(piece.length for coil in self.coils for piece in coil.pieces)

    @property
    def bought(self) -> float:
        """Length of all coils [site unit]."""
        return sum(coil.size for coil in self.coils)

    @property
    def quality(self) -> str:
        """How good the plan is known to be."""
        if self.packing.exact:
            return "no plan without further splices needs less"
        sizes = {coil.size for coil in self.coils}
        least = self.packing.least
        bound = f"{least:.0f} coils" if len(sizes) == 1 else f"{least:g} of tubing"
        return f"not proven to be the least: at least {bound}"


def coil_plan(
    cuts: Sequence[tuple[str, float]],
    coils: Sequence[float],
    *,
    splices: bool = False,
    unit: str = "ft",
) -> CoilPlan:
    """Plan from which coil each length is cut.

    Parameters
    ----------
    cuts : sequence of (str, float)
        Names and lengths with tails and waste, in the order of laying [site unit].
    coils : sequence of float
        Lengths in which coils are sold [site unit].
    splices : bool
        Whether a length longer than the longest coil may be spliced.
    unit : str
        For the words of a refusal.

    Returns
    -------
    CoilPlan

    Raises
    ------
    InputError
        No coil, a coil or length that is not above zero, or a length longer than the longest coil
        where splices are not allowed.
    """
    if not coils or min(coils) <= 0.0:
        raise input_error(
            "no coil is longer than zero",
            "give the lengths sold",
            file="site.toml",
            field="[prepare] coils",
        )
    longest = max(coils)
    pieces: list[CoilPiece] = []
    for name, length in cuts:
        if length <= 0.0:
            raise input_error(f"{name} is {length:g} {unit} long", "give a length above zero")
        if length > longest * (1.0 + _SAME) and not splices:
            raise input_error(
                f"{name} takes {length:.1f} {unit} with its tails and the longest coil holds"
                f" {longest:g} {unit}",
                "give a longer coil, or allow splices with splices = true",
                file="site.toml",
                field="[prepare] coils",
            )
        pieces += _parts(name, length, longest)
    packing = pack([piece.length for piece in pieces], coils)
    made = tuple(
        Coil(number, size, tuple(pieces[i] for i in one))
        for number, (one, size) in enumerate(zip(packing.bins, packing.sizes, strict=True), 1)
    )
    return CoilPlan(made, sum(piece.part > 1 for piece in pieces), packing)


def _parts(name: str, length: float, longest: float) -> list[CoilPiece]:
    """A length as whole coils and a rest."""
    count = max(1, int(-(-length * (1.0 - _SAME) // longest)))
    rest = length - (count - 1) * longest
    lengths = [longest] * (count - 1) + [rest]
    return [CoilPiece(name, one, part, count) for part, one in enumerate(lengths, 1)]
