"""How fast players run."""

from __future__ import annotations

SPRINT_M_S = 9.0
"""A fast player at full speed. Team means of ball carriers' top speed were 5.78 to 6.05 m/s in
2020 (Buffalo News, 12 June 2021), the fastest carry of 2016 10.39 m/s (RotoViz 2017). [m/s]"""
