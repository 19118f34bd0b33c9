"""``python -m dripfield.site.reference``: write what is generated anew."""

from __future__ import annotations

from pathlib import Path

from dripfield.site.reference.generated import generated

if __name__ == "__main__":
    home = Path(__file__).parents[1]
    for name, text in generated().items():
        (home / name).write_text(text, encoding="utf-8")
        print(home / name)
