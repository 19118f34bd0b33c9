"""The invented plane bed of the zones command's tests is used here too."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "zones_command"))
