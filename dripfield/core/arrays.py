"""Array types and the one convention of coordinate order.

Inside dripfield every point is (easting, northing) or (easting, northing, elevation), in the site's
unit and the site's own coordinates, 64-bit. Files put northing first (PNEZD), so only readers and
writers swap.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
