"""Label shares counted from the bundled plays of the seasons 2016 to 2018.

`lensyard.model.lateral_tables.measure_labels` counts them; a test counts them again from the
bundled table and compares. Rows are buckets of the gain (of the air yards for balls that came
down or were intercepted), columns the labels. Only the latest seasons before the one held out are
counted: scorers write "out of bounds" more often every year (catches .16 in 2009, .23 in 2018).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from lensyard.model.lateral_tables import LATERAL_KINDS, LabelShares

MEASURED_SEASONS: Final = tuple(range(2016, 2019))

_WEIGHT: Final = {
    "run": (
        (0.2385, 0.1866, 0.2305, 0.3443),
        (0.3210, 0.2723, 0.2337, 0.1730),
        (0.2880, 0.2547, 0.2338, 0.2235),
        (0.2296, 0.1943, 0.2191, 0.3570),
        (0.1687, 0.1791, 0.2613, 0.3908),
        (0.2171, 0.2416, 0.2733, 0.2681),
    ),
    "complete": (
        (0.1075, 0.8900, 0.0007, 0.0018),
        (0.1297, 0.8697, 0.0001, 0.0004),
        (0.2316, 0.7682, 0.0001, 0.0001),
        (0.2763, 0.6346, 0.0290, 0.0601),
        (0.1251, 0.2783, 0.1423, 0.4542),
        (0.0906, 0.1721, 0.1958, 0.5415),
    ),
    "incomplete": (
        (0.1454, 0.8498, 0.0008, 0.0039),
        (0.2159, 0.7828, 0.0002, 0.0011),
        (0.2383, 0.7603, 0.0002, 0.0012),
        (0.2406, 0.7574, 0.0003, 0.0016),
        (0.0405, 0.1209, 0.1549, 0.6837),
        (0.0012, 0.0043, 0.1577, 0.8368),
    ),
    "scramble": (
        (0.2751, 0.0586, 0.1261, 0.5402),
        (0.3000, 0.0499, 0.0654, 0.5847),
        (0.2863, 0.0619, 0.0813, 0.5705),
        (0.2753, 0.0665, 0.0906, 0.5677),
        (0.3127, 0.0947, 0.1356, 0.4569),
        (0.3111, 0.0893, 0.1059, 0.4938),
    ),
    "interception": (
        (0.2344, 0.6400, 0.0422, 0.0834),
        (0.3034, 0.6438, 0.0177, 0.0351),
        (0.3501, 0.6092, 0.0149, 0.0259),
        (0.3355, 0.5695, 0.0397, 0.0554),
        (0.0581, 0.0733, 0.3042, 0.5644),
        (0.0131, 0.0239, 0.3008, 0.6622),
    ),
}
_P_OUT: Final = {
    "run": (
        (0.0001, 0.0015, 0.0015, 0.0887),
        (0.0008, 0.0007, 0.0034, 0.1412),
        (0.0026, 0.0039, 0.0135, 0.2454),
        (0.0321, 0.0511, 0.0987, 0.3865),
        (0.1613, 0.1580, 0.2987, 0.4186),
        (0.2581, 0.1900, 0.2007, 0.3730),
    ),
    "complete": (
        (0.0497, 0.0522, 0.0248, 0.3750),
        (0.0481, 0.1735, 0.0248, 0.3750),
        (0.0206, 0.2515, 0.0236, 0.3750),
        (0.0389, 0.3089, 0.0082, 0.4069),
        (0.1388, 0.3571, 0.0178, 0.3776),
        (0.2351, 0.3561, 0.1008, 0.3085),
    ),
    "scramble": (
        (0.0001, 0.0015, 0.0014, 0.0887),
        (0.0053, 0.0003, 0.0184, 0.4881),
        (0.0165, 0.0010, 0.0727, 0.4897),
        (0.0506, 0.0985, 0.1402, 0.5710),
        (0.1384, 0.2200, 0.4367, 0.5602),
        (0.2934, 0.2285, 0.2388, 0.3552),
    ),
}
_AFTER_CATCH_YD: Final = (
    (0.79, 1.28, 1.00, 1.00),
    (1.38, 2.28, 1.00, 1.00),
    (2.59, 3.66, 2.86, 3.00),
    (5.30, 6.65, 0.96, 0.70),
    (15.59, 19.64, 5.07, 4.01),
    (44.11, 44.64, 18.54, 16.67),
)


# The same counts for plays from the 5-yard line in, where carries go up the middle more often (.39
# of them, elsewhere .28). Counted in the buckets of gains up to 9 and of air yards up to 9.
NEAR_GOAL_YD: Final = 5
_NEAR_GOAL_WEIGHT: Final = {
    "run": (
        (0.2851, 0.2709, 0.2031, 0.2408),
        (0.4209, 0.3259, 0.1497, 0.1035),
        (0.3259, 0.2777, 0.1718, 0.2246),
    ),
    "complete": (
        (0.2916, 0.7084, 0.0000, 0.0000),
        (0.2032, 0.7968, 0.0000, 0.0000),
        (0.2852, 0.7148, 0.0000, 0.0000),
    ),
    "incomplete": (
        (0.1918, 0.8082, 0.0000, 0.0000),
        (0.1779, 0.8221, 0.0000, 0.0000),
        (0.2268, 0.7732, 0.0000, 0.0000),
    ),
}


def near_goal_shares(shares: LabelShares) -> LabelShares:
    """Return label shares as they are from the 5-yard line in; the rest stays as it is."""
    weight = shares.weight.copy()
    for name, rows in _NEAR_GOAL_WEIGHT.items():
        table = np.array(rows)
        weight[LATERAL_KINDS.index(name), : len(rows)] = table / table.sum(axis=1, keepdims=True)
    return replace(shares, weight=weight)


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
