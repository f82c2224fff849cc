"""A frozen value with some of its fields changed, in half the time: for what happens at every reading."""

from functools import cache
from operator import attrgetter
from typing import Any, TypeVar

T = TypeVar("T")


def changed(one: T, **fields: object) -> T:
    """As `dataclasses.replace` for a dataclass of two fields and more, all of them given at its birth.

    KeyError for a field that it has not.
    """
    cls: Any = type(one)
    places, every = _shape(cls)
    values = list(every(one))
    for name, value in fields.items():
        values[places[name]] = value
    made: T = cls(*values)
    return made


@cache
def _shape(cls: type) -> tuple[dict[str, int], Any]:
    names: tuple[str, ...] = tuple(cls.__dataclass_fields__)  # type: ignore[attr-defined]
    return {name: at for at, name in enumerate(names)}, attrgetter(*names)
