"""Arrays by the type of their elements, for signatures."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike as ArrayLike  # noqa: PLC0414
    from numpy.typing import NDArray as NDArray  # noqa: PLC0414

    FloatArray = NDArray[np.float64]
    IntArray = NDArray[np.int64]
    SmallIntArray = NDArray[np.int16]
    BoolArray = NDArray[np.bool_]
    Float32Array = NDArray[np.float32]
    ByteArray = NDArray[np.uint8]
    AnyArray = NDArray[Any]
else:  # types that nothing asks for at run time would take a millisecond of every start
    ArrayLike = Any
    NDArray = np.ndarray
    FloatArray = IntArray = SmallIntArray = BoolArray = Float32Array = ByteArray = np.ndarray
    AnyArray = np.ndarray
