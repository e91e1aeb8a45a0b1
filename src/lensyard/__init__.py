"""Where to stand at an American football game: before it, during it and after it.

As a library::

    import lensyard

    answer = lensyard.next_play(down=3, distance_yd=7, ball="opp35", kit="70-200 + 400")
    for spot in answer.ranking.spots:
        print(spot.label, round(spot.p_usable, 2))

The functions are those of `lensyard.library`; each is imported when it is first asked for.

>>> import lensyard
>>> lensyard.__all__
['backtest', 'fit_model', 'load_plays', 'next_play', 'plan']
"""

TYPE_CHECKING = False  # as type checkers know it, without the time that importing typing takes
if TYPE_CHECKING:
    from lensyard.library import backtest, fit_model, load_plays, next_play, plan

__all__ = ["backtest", "fit_model", "load_plays", "next_play", "plan"]


def __getattr__(name: str) -> object:
    """Return a function of the library, imported on first use (PEP 562)."""
    if name in __all__:
        from importlib import import_module

        return getattr(import_module("lensyard.library"), name)
    raise AttributeError(f"module 'lensyard' has no attribute {name!r}")


def __dir__() -> list[str]:
    """Return what there is to see, the functions of the library included."""
    return sorted({*globals(), *__all__})
