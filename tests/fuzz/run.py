"""Fuzz by hand: python tests/fuzz/run.py [READER …] [--seconds N] [--seed N]

Tries damaged files at random, N seconds for each reader, and keeps the smallest file of whatever
breaks in tests/fuzz/kept/<reader>/, named after how it broke.
"""

from __future__ import annotations

import argparse
import hashlib
import random
import sys
import time
import traceback
import warnings
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from attempt import attempt
from child import in_child
from mutate import Change, damaged, random_changes
from readers import READERS, seeds

KEPT = Path(__file__).parent / "kept"


def broken(name: str, content: bytes, folder: Path) -> str:
    """How a file breaks its reader; empty where it does not."""
    try:
        attempt(name, content, folder)
    except BaseException as problem:
        place = traceback.extract_tb(problem.__traceback__)[-1]
        return f"{type(problem).__name__}-{Path(place.filename).stem}-{place.lineno}"
    return ""


def smallest(name: str, whole: bytes, changes: list[Change], how: str, folder: Path) -> bytes:
    """Leave out changes, then pieces of the file, as long as it breaks in the same way."""
    for change in list(changes):
        fewer = [other for other in changes if other is not change]
        if fewer and broken(name, damaged(whole, fewer), folder) == how:
            changes = fewer
    content = damaged(whole, changes)
    size = max(len(content) // 2, 1)
    end = time.monotonic() + 20.0
    while size >= 1 and time.monotonic() < end:
        at = 0
        while at < len(content) and time.monotonic() < end:
            less = content[:at] + content[at + size :]
            if broken(name, less, folder) == how:
                content = less
            else:
                at += size
        size //= 2
    return content


def fuzz(name: str, seconds: float, seed: int) -> None:
    """Try one reader for so long."""
    whole = seeds(name)

    def work(folder: Path) -> None:
        warnings.simplefilter("ignore")
        rng, tried, refused, seen = random.Random(f"{seed}-{name}"), 0, 0, set[str]()
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            start, changes = rng.choice(whole), random_changes(rng)
            content = damaged(start, changes)
            (folder / "current").write_bytes(content)
            tried += 1
            try:
                refused += attempt(name, content, folder) == "refused"
            except BaseException:
                how = broken(name, content, folder)
                if how and how not in seen:
                    seen.add(how)
                    found = smallest(name, start, changes, how, folder)
                    mark = hashlib.sha256(found).hexdigest()[:6]
                    (KEPT / name).mkdir(parents=True, exist_ok=True)
                    (KEPT / name / f"{how}-{mark}").write_bytes(found)
        print(
            f"{name:16} {tried:7,} files, {refused:7,} refused, broke: {sorted(seen)}", flush=True
        )

    ended = in_child(work)
    if ended:
        print(f"{name:16} {ended}", flush=True)


def main() -> None:
    """Parse the command line and try the readers named, or all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("readers", nargs="*", default=list(READERS))
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=int(time.time()))
    given = parser.parse_args()
    for name in given.readers or READERS:
        fuzz(name, given.seconds, given.seed)


if __name__ == "__main__":
    main()
