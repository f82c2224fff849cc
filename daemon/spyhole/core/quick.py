"""A frozen value with some of its fields changed, in half the time: for what happens at every reading."""

from functools import cache
from operator import attrgetter
from typing import Any, TypeVar

T = TypeVar("T")


def changed(one: T, **fields: object) -> T:
    """As `dataclasses.replace` for a dataclass of two fields and more, all of them given at its birth; the value itself
    where it has all of these very objects already.

    KeyError for a field that it has not.
    """
    cls: Any = type(one)
    places, every = _shape(cls)
    values, differs = list(every(one)), False
    for name, value in fields.items():
        place = places[name]
        if values[place] is not value:
            values[place], differs = value, True
    made: T = cls(*values) if differs else one
    return made


@cache
def _shape(cls: type) -> tuple[dict[str, int], Any]:
    names: tuple[str, ...] = tuple(cls.__dataclass_fields__)  # type: ignore[attr-defined]
    return {name: at for at, name in enumerate(names)}, attrgetter(*names)
