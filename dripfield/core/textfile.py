"""Reading a text file that a person or an instrument wrote, with every refusal in plain words.

A file is looked at before it is read: a folder, a device, a file far too large or one that is not
text is refused at once, whatever its size.
"""

from __future__ import annotations

from pathlib import Path

from dripfield.core.doing import reading
from dripfield.core.errors import input_error
from dripfield.core.limits import most

_LOOK = 65536  # bytes looked at before the whole file is read
_CONTROL = frozenset(range(32)) - frozenset(b"\t\n\v\f\r\x1a")


def check_plain_file(path: Path, most_bytes: int) -> None:
    """Refuse what is missing, no plain file, not to be read, empty, or over ``most_bytes``.

    Raises
    ------
    InputError
        Naming the file and how to mend it.
    """
    reading(path)
    try:
        if path.is_dir():
            raise input_error("this is a folder", "name a file", file=path)
        if not path.exists():
            raise input_error(
                "the file is missing", f"put it in {path.parent} or correct its name", file=path
            )
        if not path.is_file():
            raise input_error("this is not a plain file", "name a plain file", file=path)
        size = path.stat().st_size
        path.open("rb").close()  # may it be read at all?
    except OSError as problem:
        raise input_error(*_refusal(problem), file=path) from None
    if size == 0:
        raise input_error("the file is empty", "fill it, or export it again", file=path)
    if size > most_bytes:
        places = 0 if round(size / 1e6) > round(most_bytes / 1e6) else 3
        raise input_error(
            f"the file holds {size / 1e6:,.{places}f} MB and at most {most_bytes / 1e6:,.0f} MB is "
            "read",
            "check that it is the right file",
            file=path,
        )


def read_text(path: Path, most_bytes: int = most("table bytes")) -> str:
    """Read a text file: UTF-8 with or without a byte order mark, else Windows-1252.

    Parameters
    ----------
    path : Path
    most_bytes : int
        Files larger than this are refused unread.

    Returns
    -------
    str
        With every line ending turned into a line feed.

    Raises
    ------
    InputError
        Missing, a folder, empty, too large, not readable, or not text.
    """
    check_plain_file(path, most_bytes)
    try:
        with path.open("rb") as stream:
            data = stream.read(_LOOK)
            if data.startswith((b"\xff\xfe", b"\xfe\xff")):
                encoding = "utf-16"
            elif _CONTROL.isdisjoint(data):
                encoding = "utf-8-sig"
            else:
                raise input_error("this is not a text file", "export it as text", file=path)
            data += stream.read()
    except OSError as problem:
        raise input_error(*_refusal(problem), file=path) from None
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    text = text.replace("\r\n", "\n").replace("\r", "\n").rstrip("\x1a")
    if "\0" in text:
        raise input_error("this is not a text file", "export it as text", file=path)
    if not text.strip():
        raise input_error("the file is empty", "fill it, or export it again", file=path)
    return text


def _refusal(problem: OSError) -> tuple[str, str]:
    """Problem and remedy for a file that the system will not give."""
    if isinstance(problem, PermissionError):
        return "the file may not be read", "give yourself permission to read it"
    return f"the file cannot be read ({problem.strerror or problem})", "check its name and its disk"
