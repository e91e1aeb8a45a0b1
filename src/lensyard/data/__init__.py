"""Sources become canonical plays here, and the local DuckDB store serves them.

A source has a package of its own (`gamecenter`) that turns its files into `play.Play` values; the
frame of the field, the units and the words are the canonical schema's from there on. To add a
source, write such a package and hand its plays to `build`.
"""
