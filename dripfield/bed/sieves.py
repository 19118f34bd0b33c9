"""What a sieve test says of a sand, held against a gradation.

Some gradations grade the whole sample; others limit what one sieve retains and grade anew the part
that passes it.
"""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Mapping

import msgspec

from dripfield.core.errors import input_error

SIEVES = {  # opening [mm], coarse to fine; ASTM E11 designations
    "3/8 in": 9.5,
    "No. 4": 4.75,
    "No. 8": 2.36,
    "No. 16": 1.18,
    "No. 30": 0.600,
    "No. 50": 0.300,
    "No. 100": 0.150,
    "No. 200": 0.075,
}
FINENESS_SIEVES = ("No. 4", "No. 8", "No. 16", "No. 30", "No. 50", "No. 100")


class Gradation(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Limits on a sand.

    Attributes
    ----------
    passing : mapping of sieve to (least, most)
        Percent passing.
    of_part_passing : str or None
        The sieve whose passing part is graded; None for the whole sample.
    most_retained : float or None
        Percent of the whole sample that this sieve may retain.
    most_between : float or None
        Percent that may be retained between two consecutive sieves.
    fineness : (least, most) or None
        Fineness modulus.
    """

    passing: dict[str, tuple[float, float]]
    of_part_passing: str | None = None
    most_retained: float | None = None
    most_between: float | None = None
    fineness: tuple[float, float] | None = None


def read_sieves(sieve: Mapping[str, float]) -> dict[str, float]:
    """Percent passing by sieve, coarse to fine, under the names of :data:`SIEVES`.

    ``3/8``, ``#4``, ``4`` and ``No 4`` are understood too.

    Raises
    ------
    InputError
        An unknown sieve, one given twice, or more passing a finer sieve than a coarser one.
    """
    found: dict[str, float] = {}
    for text, passing in sieve.items():
        name = _sieve_named(text)
        if name in found:
            raise _refusal(f"the sieve {name} is given twice", "keep one of them", text)
        found[name] = passing
    ordered = {name: found[name] for name in SIEVES if name in found}
    pairs = list(ordered.items())
    for (coarse, more), (fine, less) in itertools.pairwise(pairs):
        if less > more:
            raise _refusal(
                f"{less:g} % pass {fine} and only {more:g} % the coarser {coarse}",
                "give percent passing, not retained, by mass of the whole sample",
                fine,
            )
    return ordered


def _sieve_named(text: str) -> str:
    plain = text.lower().replace("no.", "").replace("no", "").replace("#", "").replace("in", "")
    known = {name.removeprefix("No. ").removesuffix(" in"): name for name in SIEVES}
    name = known.get(plain.strip(' "'))
    if name is None:
        closest = difflib.get_close_matches(text, SIEVES, n=1, cutoff=0.0)[0]
        raise _refusal(f"unknown sieve {text!r}", f"the closest known is {closest!r}", text)
    return name


def _refusal(problem: str, remedy: str, sieve: str) -> Exception:
    return input_error(problem, remedy, file="site.toml", field=f"[bed.section.sieve] {sieve!r}")


def fineness_modulus(passing: Mapping[str, float]) -> float | None:
    """Sum of the percentages retained on Nos. 4, 8, 16, 30, 50 and 100 over 100.

    None when one of them was not tested. Source: ASTM C125 definition, as an Army engineer course
    on concrete (EN5466) gives it.
    """
    if any(name not in passing for name in FINENESS_SIEVES):
        return None
    return sum(100.0 - passing[name] for name in FINENESS_SIEVES) / 100.0


def faults(passing: Mapping[str, float], limits: Gradation) -> list[str]:
    """What of a sieve test breaks a gradation, in words; empty when nothing does.

    Parameters
    ----------
    passing : mapping of str to float
        From :func:`read_sieves`.
    limits : Gradation

    Returns
    -------
    list of str
    """
    found: list[str] = []
    graded = dict(passing)
    part = limits.of_part_passing
    if part is not None and part in passing:
        retained = 100.0 - passing[part]
        if limits.most_retained is not None and retained > limits.most_retained:
            found.append(f"{retained:g} % retained on {part}, at most {limits.most_retained:g} %")
        if passing[part] > 0.0:
            graded = {name: 100.0 * value / passing[part] for name, value in passing.items()}
    for name, (least, most) in limits.passing.items():
        value = graded.get(name)
        if value is not None and not least - 1e-9 <= value <= most + 1e-9:
            found.append(f"{value:.3g} % pass {name}, {least:g} to {most:g} % wanted")
    if limits.most_between is not None:
        pairs = list(passing.items())
        for (coarse, more), (fine, less) in itertools.pairwise(pairs):
            consecutive = list(SIEVES).index(fine) - list(SIEVES).index(coarse) == 1
            if consecutive and more - less > limits.most_between + 1e-9:
                found.append(
                    f"{more - less:g} % between {coarse} and {fine}, "
                    f"at most {limits.most_between:g} %"
                )
    modulus = fineness_modulus(passing)
    if limits.fineness is not None and modulus is not None:
        least, most = limits.fineness
        if not least - 1e-9 <= modulus <= most + 1e-9:
            found.append(f"fineness modulus {modulus:.2f}, {least:g} to {most:g} wanted")
    return found


def untested(passing: Mapping[str, float], limits: Gradation) -> list[str]:
    """Sieves that a gradation limits and the test left out."""
    return [name for name in limits.passing if name not in passing]
