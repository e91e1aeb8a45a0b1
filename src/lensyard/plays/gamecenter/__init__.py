"""Adapter: the league's old game feed (JSON, one file a game) becomes the bundled plays."""
