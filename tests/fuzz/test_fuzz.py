"""Damaged files of every kind: read, or refused in one line, within time and memory.

The changes come from hypothesis with fixed seeds, which also makes whatever breaks as small as it
can. DRIPFIELD_FUZZ sets how many files are tried for each reader; run.py in this folder goes on
for as long as one likes, at random. Each find is kept in kept/ and tried first ever after.
"""

from __future__ import annotations

import os
import warnings
from pathlib import Path

import pytest
from attempt import attempt
from child import in_child
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from mutate import KINDS, damaged
from readers import READERS, seeds

KEPT = Path(__file__).parent / "kept"
FILES = int(os.environ.get("DRIPFIELD_FUZZ", "60"))
SLOW = {"laz": 8, "fgb": 3, "gpkg": 3, "kml": 3, "plan-xlsx": 2}
"""Readers tried so many times less often: a process or a library's start for each file."""

CHANGES = st.lists(
    st.tuples(st.sampled_from(KINDS), st.floats(0, 1), st.integers(0, 999), st.integers(0, 999)),
    min_size=1,
    max_size=4,
)


@pytest.mark.parametrize("name", READERS)
def test_whole_files_are_read(name: str, tmp_path: Path) -> None:
    """Else nothing behind the first check would ever be tried."""
    read = [attempt(name, seed, tmp_path) for seed in seeds(name)]
    assert "read" in read


@pytest.mark.parametrize("name", READERS)
def test_damaged_files(name: str) -> None:
    whole = seeds(name)

    def work(folder: Path) -> None:
        @settings(
            max_examples=max(FILES // SLOW.get(name, 1), 5),
            derandomize=True,
            deadline=None,
            database=None,
            suppress_health_check=list(HealthCheck),
        )
        @given(st.sampled_from(whole), CHANGES)
        def tried(start: bytes, changes: list[tuple[str, float, int, int]]) -> None:
            attempt(name, damaged(start, changes), folder)

        warnings.simplefilter("ignore")
        tried()

    assert in_child(work) == ""


@pytest.mark.parametrize(
    "place", sorted(KEPT.glob("*/*")), ids=lambda place: f"{place.parent.name}-{place.name}"
)
def test_what_broke_once(place: Path) -> None:
    """Files kept in kept/<reader>/."""
    content = place.read_bytes()

    def work(folder: Path) -> None:
        attempt(place.parent.name, content, folder)

    assert in_child(work) == ""
