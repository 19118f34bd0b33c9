"""What a sieve test says of a sand, held against a gradation.

Some gradations grade the whole sample; others limit what one sieve retains and grade anew the part
that passes it.
"""

from __future__ import annotations

import difflib
import itertools
import re
from collections.abc import Mapping
from dataclasses import dataclass

import msgspec

from dripfield.core.errors import input_error

SIEVES = {  # opening [mm], coarse to fine: the sieves that the gradations below limit
    "3/8 in": 9.5,
    "No. 4": 4.75,
    "No. 8": 2.36,
    "No. 16": 1.18,
    "No. 30": 0.600,
    "No. 50": 0.300,
    "No. 100": 0.150,
    "No. 200": 0.075,
}
ALL_SIEVES = {  # opening [mm] by designation, ASTM E11 (from memory)
    **{"4 in": 100.0, "3-1/2 in": 90.0, "3 in": 75.0, "2-1/2 in": 63.0, "2 in": 50.0},
    **{"1-3/4 in": 45.0, "1-1/2 in": 37.5, "1-1/4 in": 31.5, "1 in": 25.0, "7/8 in": 22.4},
    **{"3/4 in": 19.0, "5/8 in": 16.0, "1/2 in": 12.5, "7/16 in": 11.2, "3/8 in": 9.5},
    **{"5/16 in": 8.0, "1/4 in": 6.3, "No. 3-1/2": 5.6, "No. 4": 4.75, "No. 5": 4.0},
    **{"No. 6": 3.35, "No. 7": 2.8, "No. 8": 2.36, "No. 10": 2.0, "No. 12": 1.7, "No. 14": 1.4},
    **{"No. 16": 1.18, "No. 18": 1.0, "No. 20": 0.85, "No. 25": 0.71, "No. 30": 0.6},
    **{"No. 35": 0.5, "No. 40": 0.425, "No. 45": 0.355, "No. 50": 0.3, "No. 60": 0.25},
    **{"No. 70": 0.212, "No. 80": 0.18, "No. 100": 0.15, "No. 120": 0.125, "No. 140": 0.106},
    **{"No. 170": 0.09, "No. 200": 0.075, "No. 230": 0.063, "No. 270": 0.053},
    **{"No. 325": 0.045, "No. 400": 0.038},
}
_SAME_OPENING = 0.011  # sieves whose openings differ by less than this share are one
_MILLIMETRES = re.compile(r"(\d+(?:\.\d+)?)\s*(mm|um|µm|μm)")
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
    """Percent passing by sieve, coarse to fine, under the names of :data:`ALL_SIEVES`.

    ``3/8``, ``#4``, ``4``, ``No 4``, ``1 1/2 in``, ``0.425 mm`` and ``75 um`` are understood too;
    a bare whole number is a sieve's number. An opening in millimetres that no named sieve has keeps
    its millimetres.

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
    ordered = dict(sorted(found.items(), key=lambda pair: -opening(pair[0])))
    for (coarse, more), (fine, less) in itertools.pairwise(ordered.items()):
        if less > more:
            raise _refusal(
                f"{less:g} % pass {fine} and only {more:g} % the coarser {coarse}",
                "give percent passing, not retained, by mass of the whole sample",
                fine,
            )
    return ordered


def opening(name: str) -> float:
    """Opening of a sieve named as :func:`read_sieves` does [mm]."""
    return ALL_SIEVES[name] if name in ALL_SIEVES else float(name.removesuffix(" mm"))


def _sieve_named(text: str) -> str:
    plain = " ".join(text.lower().split())
    if metric := _MILLIMETRES.fullmatch(plain):
        size = float(metric[1]) * (1.0 if metric[2] == "mm" else 1e-3)
        near = [n for n, mm in ALL_SIEVES.items() if abs(mm - size) <= _SAME_OPENING * mm]
        if size <= 0.0:
            raise _refusal(f"a sieve of {text}", "give its opening", text)
        return near[0] if near else f"{size:g} mm"
    for word in ("no.", "no", "#", "inches", "inch", "in.", "in", '"'):
        plain = plain.replace(word, " ")
    plain = "-".join(plain.split())
    if "in" in text.lower() or '"' in text:
        known = {n.removesuffix(" in"): n for n in ALL_SIEVES if n.endswith(" in")}
    else:
        known = {n.removeprefix("No. ").removesuffix(" in"): n for n in reversed(ALL_SIEVES)}
        known |= {n.removeprefix("No. "): n for n in ALL_SIEVES if n.startswith("No. ")}
    name = known.get(plain)
    if name is None:
        closest = difflib.get_close_matches(text, ALL_SIEVES, n=1, cutoff=0.0)[0]
        raise _refusal(f"unknown sieve {text!r}", f"the closest known is {closest!r}", text)
    return name


def size_passing(passing: Mapping[str, float], percent: float) -> float | None:
    """Grain size that a percentage of the sample is finer than.

    Parameters
    ----------
    passing : mapping of str to float
        From :func:`read_sieves`.
    percent : float

    Returns
    -------
    float or None
        [mm], straight between two sieves on a logarithmic scale of sizes; None where the tested
        sieves do not bracket it: nothing is carried on beyond them.
    """
    curve = [(opening(name), value) for name, value in passing.items()]
    for (coarse, more), (fine, less) in itertools.pairwise(curve):
        if less <= percent <= more and more > less:
            share = (percent - less) / (more - less)
            return float(fine * (coarse / fine) ** share)
    return None


@dataclass(frozen=True)
class GrainSizes:
    """Sizes that describe a sand.

    Attributes
    ----------
    d10, d60 : float or None
        Effective size, which 10 % by mass are finer than, and that of 60 % [mm].
    """

    d10: float | None
    d60: float | None

    @property
    def uniformity(self) -> float | None:
        """Uniformity coefficient D60 / D10."""
        return None if self.d10 is None or self.d60 is None else self.d60 / self.d10

    def words(self) -> str:
        """For a sheet: each figure, or that the sieves do not reach it."""

        def size(value: float | None) -> str:
            return "beyond the sieves tested" if value is None else f"{value:.3g} mm"

        many = "" if self.uniformity is None else f", uniformity coefficient {self.uniformity:.2f}"
        return f"effective size D10 {size(self.d10)}, D60 {size(self.d60)}{many}"


def grain_sizes(passing: Mapping[str, float]) -> GrainSizes:
    """Effective size and D60 of a sieve test from :func:`read_sieves`.

    A. Hazen's effective size and uniformity coefficient (Massachusetts State Board of Health, 1892;
    from memory).
    """
    return GrainSizes(size_passing(passing, 10.0), size_passing(passing, 60.0))


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
        named = list(SIEVES)
        pairs = [(name, value) for name, value in passing.items() if name in SIEVES]
        for (coarse, more), (fine, less) in itertools.pairwise(pairs):
            consecutive = named.index(fine) - named.index(coarse) == 1
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
