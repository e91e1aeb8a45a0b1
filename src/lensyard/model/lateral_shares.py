"""Label shares counted from the bundled plays of the seasons 2009 to 2018.

`lensyard.model.lateral_tables.measure_labels` counts them; a test counts them again from the
bundled table and compares. Rows are buckets of the gain (of the air yards for balls that came
down or were intercepted), columns the labels.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from lensyard.model.lateral_tables import LATERAL_KINDS, LabelShares

MEASURED_SEASONS: Final = tuple(range(2009, 2019))

_WEIGHT: Final = {
    "run": (
        (0.2282, 0.1775, 0.2475, 0.3468),
        (0.3033, 0.2631, 0.2556, 0.1780),
        (0.2706, 0.2482, 0.2557, 0.2255),
        (0.2192, 0.1863, 0.2427, 0.3518),
        (0.1745, 0.1712, 0.2658, 0.3884),
        (0.2436, 0.1975, 0.2600, 0.2989),
    ),
    "complete": (
        (0.0913, 0.9079, 0.0002, 0.0006),
        (0.1391, 0.8601, 0.0001, 0.0006),
        (0.2287, 0.7711, 0.0001, 0.0001),
        (0.2628, 0.6456, 0.0303, 0.0612),
        (0.1278, 0.2722, 0.1652, 0.4347),
        (0.0730, 0.1785, 0.2014, 0.5471),
    ),
    "incomplete": (
        (0.1366, 0.8620, 0.0003, 0.0011),
        (0.2237, 0.7759, 0.0001, 0.0003),
        (0.2331, 0.7665, 0.0001, 0.0003),
        (0.2313, 0.7681, 0.0001, 0.0005),
        (0.0402, 0.1270, 0.1752, 0.6576),
        (0.0004, 0.0013, 0.1693, 0.8291),
    ),
    "scramble": (
        (0.3298, 0.0367, 0.1212, 0.5122),
        (0.3326, 0.0572, 0.0660, 0.5441),
        (0.3059, 0.0518, 0.0917, 0.5506),
        (0.2921, 0.0650, 0.0995, 0.5433),
        (0.3353, 0.0667, 0.1107, 0.4874),
        (0.2840, 0.0872, 0.1877, 0.4411),
    ),
    "interception": (
        (0.2411, 0.7224, 0.0119, 0.0246),
        (0.3094, 0.6760, 0.0047, 0.0098),
        (0.3056, 0.6802, 0.0065, 0.0077),
        (0.3240, 0.6073, 0.0274, 0.0413),
        (0.0521, 0.0735, 0.3102, 0.5641),
        (0.0035, 0.0073, 0.2841, 0.7051),
    ),
}
_P_OUT: Final = {
    "run": (
        (0.0000, 0.0009, 0.0043, 0.0654),
        (0.0007, 0.0006, 0.0043, 0.1094),
        (0.0022, 0.0035, 0.0154, 0.2039),
        (0.0245, 0.0455, 0.0928, 0.3509),
        (0.1870, 0.2108, 0.3241, 0.3998),
        (0.2843, 0.2689, 0.2691, 0.3226),
    ),
    "complete": (
        (0.0302, 0.0481, 0.0215, 0.3289),
        (0.0228, 0.1446, 0.0205, 0.3299),
        (0.0165, 0.2101, 0.0187, 0.3431),
        (0.0344, 0.2748, 0.0034, 0.3513),
        (0.1249, 0.3341, 0.0194, 0.3336),
        (0.2979, 0.3112, 0.0809, 0.2666),
    ),
    "scramble": (
        (0.0000, 0.0009, 0.0039, 0.0523),
        (0.0032, 0.0001, 0.0217, 0.4660),
        (0.0083, 0.0004, 0.0571, 0.5029),
        (0.0475, 0.0983, 0.1826, 0.5553),
        (0.1213, 0.2221, 0.4571, 0.5586),
        (0.3342, 0.3037, 0.3076, 0.2805),
    ),
}
_AFTER_CATCH_YD: Final = (
    (0.83, 1.19, 1.00, 1.00),
    (1.24, 2.26, 1.00, 0.87),
    (2.58, 3.62, 2.61, 2.40),
    (5.38, 6.54, 0.75, 0.55),
    (15.81, 19.61, 4.49, 3.92),
    (45.99, 47.77, 16.72, 16.77),
)


def bundled_shares() -> LabelShares:
    """Return the shares counted from the bundled plays."""
    weight = np.zeros((len(LATERAL_KINDS), *np.shape(_WEIGHT["run"])))
    weight[:, :, 0] = 1.0  # sacks have a single label
    p_out = np.zeros_like(weight)
    for kind, name in enumerate(LATERAL_KINDS):
        if name in _WEIGHT:
            weight[kind] = _WEIGHT[name]
        if name in _P_OUT:
            p_out[kind] = _P_OUT[name]
    weight /= weight.sum(axis=2, keepdims=True)  # undo the rounding of the literals
    return LabelShares(weight=weight, p_out=p_out, after_catch_yd=np.array(_AFTER_CATCH_YD))
