"""Sources of play-by-play: one small adapter a file, and what is the same for all of them.

`registry` lists the adapters. To add one, write a module beside the others and name it there.
"""
