"""Tables, drawings and plans of a finished layout."""

from __future__ import annotations

from dripfield.sheets.write import write_layout

__all__ = ["write_layout"]
