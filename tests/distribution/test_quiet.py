"""What a library in C writes on standard output is kept from it, and only that."""

from __future__ import annotations

import os

import pytest

from dripfield.core.quiet import quiet_output


def test_only_what_is_written_below_python_is_lost(capfd: pytest.CaptureFixture[str]) -> None:
    print("before")
    with quiet_output():
        os.write(1, b"stray\n")
    print("after")
    assert capfd.readouterr().out == "before\nafter\n"


def test_it_is_undone_by_an_error(capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(RuntimeError), quiet_output():
        raise RuntimeError
    print("after")
    assert capfd.readouterr().out == "after\n"
