"""The errors dripfield raises.

Every message is one line that says what was found, where, and how to mend it: the command line
prints it as it is.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

LONGEST = 600
"""Characters of the longest message; longer ones are cut in the middle."""


class DripfieldError(Exception):
    """Base of every error raised on purpose by dripfield."""


class InputError(DripfieldError, ValueError):
    """Bad input or usage: the command line prints ``error: <message>`` and exits with 2."""


class NotSolved(DripfieldError, RuntimeError):
    """A network of pipes has no solution that may be believed; the message says why."""


@contextmanager
def damage_named(file: str | Path, what: str, remedy: str = "export it again") -> Iterator[None]:
    """Take whatever another's parser stumbles over as damage of the file it reads.

    Parameters
    ----------
    file : str or Path
    what : str
        What cannot be read, as the message begins.
    remedy : str

    Yields
    ------
    None

    Raises
    ------
    InputError
        In place of any exception but lack of memory and those raised on purpose.
    """
    try:
        yield
    except (DripfieldError, MemoryError):
        raise
    except Exception as problem:
        kind = f"{type(problem).__name__}: {str(problem)[:80]}".rstrip(": ")
        raise input_error(f"{what} is damaged ({kind})", remedy, file=file) from problem


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
    return InputError(clean_line(text, 4 * LONGEST))


def clean_line(text: str, longest: int = LONGEST) -> str:
    """A message as one line that is safe to show.

    Control, bidirectional and invisible characters, which a file name or a cell can carry into a
    terminal, become question marks; runs of blanks one blank; the middle of what is too long an
    ellipsis, so that problem and remedy both stay.
    """
    if len(text) > 8 * longest:  # before any work goes into it
        text = f"{text[: 2 * longest]} … {text[-2 * longest :]}"
    text = " ".join(text.split())
    shown = "".join("?" if unicodedata.category(sign) in _UNSEEN else sign for sign in text)
    if len(shown) <= longest:
        return shown
    head = (longest - 3) * 2 // 3
    return f"{shown[:head]} … {shown[head + 3 - longest :]}"


_UNSEEN = frozenset(("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"))
