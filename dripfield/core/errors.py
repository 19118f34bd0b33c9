"""The errors dripfield raises.

Every message is one line that says what was found, where, and how to mend it: the command line
prints it as it is.
"""

from __future__ import annotations

from pathlib import Path


class DripfieldError(Exception):
    """Base of every error raised on purpose by dripfield."""


class InputError(DripfieldError, ValueError):
    """Bad input or usage: the command line prints ``error: <message>`` and exits with 2."""


class NotSolved(DripfieldError, RuntimeError):
    """A network of pipes has no solution that may be believed; the message says why."""


def input_error(
    problem: str,
    remedy: str,
    *,
    file: str | Path | None = None,
    row: int | None = None,
    field: str | None = None,
) -> InputError:
    """Make an :class:`InputError` whose one line names the place, the problem and the remedy.

    Parameters
    ----------
    problem : str
        What was found, with the value ("spacing is 0").
    remedy : str
        How to mend it, as an instruction ("give a length greater than zero").
    file, row, field : optional
        Where: the file's name (only the last part of a path is shown), the row as an editor counts
        it (from 1), the key or column.

    Returns
    -------
    InputError
        Not raised: write ``raise input_error(...)``.
    """
    place = []
    if file is not None:
        place.append(Path(file).name)
    if row is not None:
        place.append(f"row {row}")
    if field is not None:
        place.append(field)
    text = f"{problem}; {remedy}"
    if place:
        text = f"{', '.join(place)}: {text}"
    return InputError(" ".join(text.split()))
