"""JSON as it is written into files."""

from __future__ import annotations

import json
from typing import Any


def to_json(content: dict[str, Any]) -> str:
    """JSON text that can be read and compared: a member a line, and a line for each item of a list.

    Parameters
    ----------
    content : dict
        Of what JSON has.

    Returns
    -------
    str
        The same content gives the same text.
    """
    parts = []
    for key, value in content.items():
        if isinstance(value, list) and value:
            rows = ",\n".join(f"    {json.dumps(one, ensure_ascii=False)}" for one in value)
            parts.append(f"  {json.dumps(key)}: [\n{rows}\n  ]")
        else:
            parts.append(f"  {json.dumps(key)}: {json.dumps(value, ensure_ascii=False)}")
    return "{\n" + ",\n".join(parts) + "\n}\n"
