"""Arrays by the type of their elements, for signatures."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
SmallIntArray = NDArray[np.int16]
BoolArray = NDArray[np.bool_]
Float32Array = NDArray[np.float32]
ByteArray = NDArray[np.uint8]
AnyArray = NDArray[Any]
