"""``python -m dripfield``."""

from dripfield.cli import main

main()
