"""Where files live: this user's, and those that come with the package.

Each of the user's folders follows the platform's convention and can be set by an environment
variable, which wins. Nothing is created until something is about to be written there.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

from lensyard.errors import DataError, StoreError

APP_NAME: Final = "lensyard"
CACHE_VARIABLE: Final = "LENSYARD_CACHE_DIR"
DATA_VARIABLE: Final = "LENSYARD_DATA_DIR"
CONFIG_VARIABLE: Final = "LENSYARD_CONFIG_DIR"


def user_cache_dir(*, create: bool = False) -> Path:
    """Return the folder of files that can be rebuilt: the play store, solved plans.

    - ``create``: make the folder, and make sure that it can be written.

    Raises `StoreError` if `create` is set and the folder cannot be made or written.
    """
    return _folder(CACHE_VARIABLE, kind="cache", create=create)


def user_data_dir(*, create: bool = False) -> Path:
    """Return the folder of what the user entered: game logs, venues. See `user_cache_dir`."""
    return _folder(DATA_VARIABLE, kind="data", create=create)


def user_config_dir(*, create: bool = False) -> Path:
    """Return the folder of the user's settings. See `user_cache_dir`."""
    return _folder(CONFIG_VARIABLE, kind="config", create=create)


def _folder(variable: str, *, kind: str, create: bool) -> Path:
    """Return the folder that the variable names, else the platform's own."""
    named = os.environ.get(variable, "").strip()
    folder = Path(named).expanduser() if named else _platform_folder(kind)
    if create:
        _make_writable(folder, variable=variable)
    return folder


def _platform_folder(kind: str) -> Path:
    """Return the platform's folder for one kind of file."""
    import platformdirs

    folders = {
        "cache": platformdirs.user_cache_path,
        "data": platformdirs.user_data_path,
        "config": platformdirs.user_config_path,
    }
    return folders[kind](APP_NAME, appauthor=False)


def _make_writable(folder: Path, *, variable: str) -> None:
    """Create the folder and try a file in it."""
    import tempfile

    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise StoreError(
            f"cannot write to {folder} ({error.strerror or error}); expected a folder that this "
            f"user may write. Free it, or set {variable} to another folder."
        ) from error


_PACKAGE: Final = Path(__file__).resolve().parent


def bundled_dir(name: str) -> Path:
    """Return a folder that comes with the package, `data` or `models`.

    In a checkout, and an editable install of it, they lie beside `src`; in an installed wheel
    inside the package.

    Raises `DataError` if neither the package nor a checkout around it has the folder.
    """
    places = (_PACKAGE / "_bundled" / name, _PACKAGE.parents[1] / name)
    for place in places:
        if place.is_dir():
            return place
    raise DataError(
        f"the bundled folder {name!r} is missing; looked in {places[0]} and {places[1]}. "
        "Install the package again, or run from a checkout."
    )


def data_dir() -> Path:
    """Return the folder of the bundled data. Raises `DataError` if it is missing."""
    return bundled_dir("data")


def models_dir() -> Path:
    """Return the folder of the bundled models. Raises `DataError` if it is missing."""
    return bundled_dir("models")
