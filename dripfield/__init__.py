"""dripfield: from a surveyed bed to a drip dispersal field that can be staked and checked."""

from __future__ import annotations

__version__ = "0.1.0"
