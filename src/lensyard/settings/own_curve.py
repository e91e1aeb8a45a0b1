"""The photographer's own keep curve: kept from a review, used by every command and page."""

from __future__ import annotations

from typing import Final

from lensyard.config import user_config_dir
from lensyard.domain.kit import KeepCurve, curve_text, parse_curve
from lensyard.errors import InvalidInputError
from lensyard.files import write_atomically

SLOPE: Final = "slope"
"""Names the slope of the crop margin though a curve is kept."""
_FILE: Final = "keep-curve"
_LONGEST: Final = 4096


def own_curve(text: str = "") -> KeepCurve:
    """Return the curve that a text names: itself, none for `SLOPE`, the kept one for nothing.

    Raises `InvalidInputError` if the text, or what is kept, is no curve.
    """
    if text == SLOPE:
        return ()
    if text:
        return parse_curve(text)
    try:
        with (user_config_dir() / _FILE).open(encoding="utf-8") as file:
            return parse_curve(file.read(_LONGEST).strip())
    except FileNotFoundError:
        return ()
    except (OSError, UnicodeDecodeError, InvalidInputError) as error:
        raise InvalidInputError(
            f"the kept keep curve cannot be read ({error}); `lensyard review --use-curve` keeps it "
            f"anew, --keep-curve {SLOPE} does without"
        ) from None


def use_curve(curve: KeepCurve) -> None:
    """Keep a curve for every later answer; an empty one gives the slope back."""
    path = user_config_dir(create=True) / _FILE
    if curve:
        write_atomically(path, f"{curve_text(curve)}\n".encode())
    else:
        path.unlink(missing_ok=True)
