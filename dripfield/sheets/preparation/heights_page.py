"""Heights around tanks and enclosures as side sketches, with what was looked at."""

from __future__ import annotations

from dripfield.preparation.prepared import Prepared
from dripfield.sheets.kit.style import Paper
from dripfield.sheets.preparation.sheet import Page


def heights_pages(found: Prepared, paper: Paper) -> list[Page]:
    """A page a tank, enclosures together, a page a line."""
    return []
