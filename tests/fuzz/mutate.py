"""Damage done to a whole file: a list of small changes, so that what breaks can be made smaller.

A change is (kind, place, amount, token); places are shares of the file's length, so that a change
stays meaningful when those before it are left out. Inside a zip archive the members are changed and
packed again, else nothing but the archive's checksum would ever be tried.
"""

from __future__ import annotations

import io
import random
import zipfile
from pathlib import Path

KINDS = ("set", "insert", "delete", "copy", "number", "token", "line", "cut")
Change = tuple[str, float, int, int]
DICTIONARY = [
    line.encode("latin-1").decode("unicode_escape").encode("latin-1")
    for line in Path(__file__).with_name("dictionary.txt").read_text("utf-8").splitlines()
    if line and not line.startswith("#")
]
_NUMBERS = (
    b"nan", b"1e200", b"-1e308", b"9" * 400, b"0", b"-1", b"4294967295", b"2147483648", b"1e-300",
    b"", b"inf", b"1_0", b"0x10", b"1,5",
)  # fmt: skip


def damaged(whole: bytes, changes: list[Change]) -> bytes:
    """The file with the changes made one after the other."""
    if whole.startswith(b"PK\x03\x04") and changes and changes[0][2] % 4:
        return _inside(whole, changes)
    data = bytearray(whole)
    for change in changes:
        data = _changed(data, *change)
    return bytes(data)


def _inside(whole: bytes, changes: list[Change]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(whole)) as old, zipfile.ZipFile(out, "w") as new:
        names = old.namelist()
        for i, name in enumerate(names):
            data = bytearray(old.read(name))
            for change in changes:
                if change[2] % len(names) == i or "sheet" in name:
                    data = _changed(data, *change)
            new.writestr(zipfile.ZipInfo(name), bytes(data))
    return out.getvalue()


def _changed(data: bytearray, kind: str, place: float, amount: int, token: int) -> bytearray:
    at = int(place * len(data))
    if kind == "set" and data:
        data[min(at, len(data) - 1)] = token % 256
    elif kind == "insert":
        data[at:at] = bytes([token % 256]) * (1 + amount % 9)
    elif kind == "delete":
        del data[at : at + 1 + amount % 200]
    elif kind == "copy":
        piece = data[at : at + 1 + amount % 400]
        data[at:at] = piece * (1 + token % 3)
    elif kind == "token":
        word = DICTIONARY[token % len(DICTIONARY)]
        data[at : at + (amount % 3) * len(word)] = word
    elif kind == "number":
        _number(data, at, _NUMBERS[token % len(_NUMBERS)])
    elif kind == "line":
        start = data.rfind(b"\n", 0, at) + 1
        stop = data.find(b"\n", at)
        stop = len(data) if stop < 0 else stop + 1
        data[start:stop] = data[start:stop] * (token % 3)
    elif kind == "cut":
        del data[max(at, 1) :]
    return data


def _number(data: bytearray, at: int, number: bytes) -> None:
    """Put another number in place of the one at or after a place."""
    digits = b"0123456789.+-eE"
    start = next((i for i in range(at, len(data)) if data[i] in digits[:10]), None)
    if start is None:
        return
    stop = start
    while stop < len(data) and data[stop] in digits:
        stop += 1
    data[start:stop] = number


def random_changes(rng: random.Random) -> list[Change]:
    """One to four changes."""
    return [
        (rng.choice(KINDS), rng.random(), rng.randrange(1000), rng.randrange(1000))
        for _ in range(rng.choice((1, 1, 2, 2, 3, 4)))
    ]
