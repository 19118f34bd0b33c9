"""``[review]``: limits that a reviewer sets (grows with :mod:`dripfield.review`)."""

from __future__ import annotations

import msgspec


class ReviewTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[review]``."""
