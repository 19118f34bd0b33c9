"""``[survey]``: where the shots are and how their file is written."""

from __future__ import annotations

import msgspec


class SurveyTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[survey]``."""

    points: str
    order: str | None = None
