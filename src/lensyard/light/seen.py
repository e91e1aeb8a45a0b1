"""The light as it is seen from a place when stands throw shade."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lensyard.light.angle import LightKind
from lensyard.light.sides import EdgeLight


def seen_kinds(
    kinds: ArrayLike, *, spot_in_shade: ArrayLike, action_in_shade: ArrayLike
) -> NDArray[np.object_]:
    """Return the kinds of light with shade counted in.

    Parameters
    ----------
    kinds : array_like of LightKind
        As the sun alone would have it.
    spot_in_shade, action_in_shade : array_like of bool
        Whether camera and action lie in shade. All broadcast together.

    Returns
    -------
    ndarray of LightKind
        Sun in the lens stays while the camera itself is in the sun, whatever the action is in; in
        the shade it is back light. Any other light on action in shade is no direct sun.

    Examples
    --------
    >>> kinds = [LightKind.FRONT, LightKind.SUN_IN_LENS, LightKind.SUN_IN_LENS]
    >>> seen = seen_kinds(
    ...     kinds, spot_in_shade=[True, False, True], action_in_shade=[True, True, False]
    ... )
    >>> [kind.value for kind in seen]
    ['no direct sun', 'sun in the lens', 'back']
    """
    kind, spot, action = np.broadcast_arrays(
        np.asarray(kinds, dtype=object),
        np.asarray(spot_in_shade, dtype=bool),
        np.asarray(action_in_shade, dtype=bool),
    )
    seen = kind.copy()
    in_lens = kind == LightKind.SUN_IN_LENS
    seen[in_lens & spot] = LightKind.BACK
    seen[action & ~(in_lens & ~spot)] = LightKind.NO_SUN
    return seen


def seen_kind(light: EdgeLight) -> LightKind:
    """Return the kind of light seen from an edge, with shade counted in."""
    # With the sun at the horizon everything counts as shade; its own kind is the better judge.
    if light.kind is LightKind.NO_SUN:
        return light.kind
    seen = seen_kinds(
        light.kind, spot_in_shade=light.spot_in_shade, action_in_shade=light.action_in_shade
    )
    return LightKind(seen.item())
