"""Frozen dataclasses whose methods are written once; results and requests are made of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, Field, FrozenInstanceError, dataclass, field
from typing import Any, ClassVar, NoReturn, dataclass_transform


@dataclass_transform(frozen_default=True, field_specifiers=(field,))
class Record:
    """A base whose subclasses are frozen dataclasses, for `dataclasses.replace` and the like.

    Generated methods are compiled at each start for every class, a millisecond a class; these are
    shared. An object takes longer to make (1 µs).
    """

    __dataclass_fields__: ClassVar[dict[str, Field[Any]]]
    _defaults: ClassVar[dict[str, object]]
    _factories: ClassVar[dict[str, Callable[[], object]]]

    def __init_subclass__(cls) -> None:
        """Collect the fields, and what those are that nobody names."""
        dataclass(init=False, repr=False, eq=False)(cls)
        of = cls.__dataclass_fields__.values()
        cls._defaults = {f.name: f.default for f in of if f.default is not MISSING}
        cls._factories = {f.name: f.default_factory for f in of if f.default_factory is not MISSING}

    def __init__(self, *args: object, **values: object) -> None:
        """Store the fields, by place or by name; raises `TypeError` as any call does."""
        fields, made = self.__dataclass_fields__, self.__dict__
        made.update(self._defaults)
        if args:
            made.update(zip(fields, args, strict=False))
        made.update(values)
        for name, make in self._factories.items():
            if name not in made:
                made[name] = make()
        twice = args and not values.keys().isdisjoint(list(fields)[: len(args)])
        if twice or len(args) > len(fields) or made.keys() != fields.keys():
            if missing := [name for name in fields if name not in made]:
                raise TypeError(f"{type(self).__name__} needs {missing[0]!r}")
            raise TypeError(f"{type(self).__name__} has the fields {list(fields)}, each once")
        self.__post_init__()

    def __post_init__(self) -> None:
        """Check or complete the fields."""

    def __eq__(self, other: object) -> bool:
        """Return whether another object of the same class has equal fields."""
        if not isinstance(other, Record) or type(other) is not type(self):
            return NotImplemented
        return self._values() == other._values()

    def __hash__(self) -> int:
        """Return a hash of the fields."""
        return hash(self._values())

    def _values(self) -> tuple[object, ...]:
        fields = self.__dataclass_fields__.items()
        return tuple(self.__dict__[name] for name, what in fields if what.compare)

    def __repr__(self) -> str:
        """Return how the object is made."""
        fields = self.__dataclass_fields__.items()
        said = ", ".join(f"{n}={self.__dict__[n]!r}" for n, what in fields if what.repr)
        return f"{type(self).__name__}({said})"

    def __setattr__(self, name: str, value: object) -> NoReturn:
        """Refuse: a record never changes."""
        raise FrozenInstanceError(f"cannot assign to field {name!r}")

    def __delattr__(self, name: str) -> NoReturn:
        """Refuse: a record never changes."""
        raise FrozenInstanceError(f"cannot delete field {name!r}")


class ArrayRecord(Record):
    """A record with arrays, which have no one answer to ``==``: it is equal to itself only."""

    __eq__ = object.__eq__
    __hash__ = object.__hash__
