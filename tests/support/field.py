"""The field as the rule books draw it, apart from the project's own constants.

NFL Official Playing Rules, rule 1: 120 yd by 53 1/3 yd with the end zones; a yard is .9144 m
(international yard and pound agreement, 1959).
"""

FIELD_LENGTH_YD = 120.0
FIELD_WIDTH_YD = 160.0 / 3.0
CENTER_Y_YD = FIELD_WIDTH_YD / 2.0
METERS_PER_YARD = 0.9144
