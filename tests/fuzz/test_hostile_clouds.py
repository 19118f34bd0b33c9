"""Point clouds whose header lies, and compressed noise. Offsets: ASPRS LAS 1.4 (from memory)."""

from __future__ import annotations

import random
import struct
from pathlib import Path

import pytest
from readers import seeds, survey

from dripfield.core.errors import InputError


def put(form: str, *values: int):
    return lambda data, at: struct.pack_into(form, data, at, *values)


LIES = {
    "2^32 records": (100, put("<I", 2**32 - 1), "4,294,967,295 header records in"),
    "2^32 points": (107, put("<I", 2**32 - 1), None),
    "version 1.7": (25, put("<B", 7), "it is of version 1.7; export it as LAS 1.2 or 1.4"),
    "points behind the end": (96, put("<I", 2**31), "the header's lengths do not fit the file"),
    "points of 3 bytes": (105, put("<H", 3), "in 3 bytes"),
}
LATER = {
    "extended records behind the end": (235, put("<QI", 10**9, 5), "behind the end of the file"),
    "2^60 points": (247, put("<Q", 2**60), None),
}


@pytest.mark.parametrize("ending", ["las", "laz"])
@pytest.mark.parametrize("version", [0, 1], ids=["1.2", "1.4"])
def test_headers_that_lie(tmp_path: Path, ending: str, version: int) -> None:
    whole = seeds(ending)[version]
    for name, (at, change, words) in (LIES | (LATER if version else {})).items():
        data = bytearray(whole)
        change(data, at)
        path = tmp_path / f"cloud.{ending}"
        path.write_bytes(data)
        if version and name == "2^32 points":  # of the old field, which 1.4 no longer uses
            continue
        with pytest.raises(InputError) as caught:
            survey(path)
        assert (words or "") in str(caught.value), name


@pytest.mark.parametrize("ending", ["las", "laz"])
def test_cut_short(tmp_path: Path, ending: str) -> None:
    whole = seeds(ending)[1]
    for length in (100, 300, 380, len(whole) // 2, len(whole) - 3):
        path = tmp_path / f"cloud.{ending}"
        path.write_bytes(whole[:length])
        with pytest.raises(InputError):
            survey(path)


@pytest.mark.parametrize("version", [0, 1], ids=["1.2", "1.4"])
def test_a_chunk_count_of_2_31_does_not_end_the_process(tmp_path: Path, version: int) -> None:
    data = bytearray(seeds("laz")[version])
    start = struct.unpack_from("<I", data, 96)[0]
    table = struct.unpack_from("<q", data, start)[0]
    struct.pack_into("<I", data, table + 4, 2**31)
    path = tmp_path / "cloud.laz"
    path.write_bytes(data)
    with pytest.raises(InputError, match="2,147,483,648 chunks of points where 1 are stated"):
        survey(path)


def test_compressed_noise(tmp_path: Path) -> None:
    data = bytearray(seeds("laz")[1])
    start = struct.unpack_from("<I", data, 96)[0]
    table = struct.unpack_from("<q", data, start)[0]
    rng = random.Random(1)
    for i in range(start + 8, table):
        data[i] = rng.randrange(256)
    path = tmp_path / "cloud.laz"
    path.write_bytes(data)
    with pytest.raises(InputError, match="its compressed points cannot be decoded beyond 0 of 36"):
        survey(path)
