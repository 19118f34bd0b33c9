"""``[bed.section]``: what comes out, what goes in and at what height the tubing lies."""

from __future__ import annotations

import msgspec


class BedSection(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """The bed's section (grows with :mod:`dripfield.bed`)."""
