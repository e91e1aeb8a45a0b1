"""The script that the server runs, alone in its folder: the server puts that folder on the path."""
