"""Frozen values of core to JSON and back, exactly: the shape is read from the dataclasses themselves.

A field that is missing takes its default, so that a value of today is still read when its class has grown; a field
that is unknown is refused, because what cannot be understood must not be left out of the fold. A float is
written as Python writes it, which gives the same float back.
"""

import json
from dataclasses import fields, is_dataclass
from enum import StrEnum
from functools import cache
from types import NoneType, UnionType
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from spyhole.core.concluded import TurnAnswer
from spyhole.core.drawn import Drawn
from spyhole.core.entry import Entry
from spyhole.core.journal import (
    Acknowledgement,
    Carried,
    Clock,
    InReach,
    Model,
    OutOfService,
    PlanEdit,
    PlanKept,
    Rearm,
    Reset,
    Settings,
    Shelving,
    Told,
    Undo,
    WatchFault,
    WatchTaken,
)
from spyhole.core.measured import Measured, Tripped, Witnessed
from spyhole.core.outcome import AlarmOutcome, PromptOutcome
from spyhole.core.preparation import Preparation
from spyhole.core.reading import Reading

Kept = (
    Clock
    | Settings
    | Entry
    | Acknowledgement
    | Reset
    | Undo
    | Shelving
    | OutOfService
    | WatchTaken
    | InReach
    | TurnAnswer
    | Rearm
    | PlanEdit
    | PlanKept
    | Preparation
    | Model
    | Measured
    | Witnessed
    | Tripped
    | Carried
    | WatchFault
    | Drawn
)
"""All kinds of row but the reading, which has a table of its own."""

JOURNAL_KINDS: dict[str, type[Kept]] = {
    "clock": Clock,
    "settings": Settings,
    "entry": Entry,
    "acknowledgement": Acknowledgement,
    "reset": Reset,
    "undo": Undo,
    "shelving": Shelving,
    "out-of-service": OutOfService,
    "watch-taken": WatchTaken,
    "in-reach": InReach,
    "turn-answer": TurnAnswer,
    "re-arm": Rearm,
    "plan-edit": PlanEdit,
    "plan-kept": PlanKept,
    "preparation": Preparation,
    "model": Model,
    "measured": Measured,
    "witnessed": Witnessed,
    "tripped": Tripped,
    "carried": Carried,
    "watch-fault": WatchFault,
    "drawn": Drawn,
}
OUTCOME_KINDS: dict[str, type[AlarmOutcome | PromptOutcome]] = {"alarm": AlarmOutcome, "prompt": PromptOutcome}

T = TypeVar("T")


class UnreadablePayload(Exception):
    """Stored JSON does not have the shape of its kind: written by another version, or damaged."""


def journal_payload(told: Told) -> tuple[str, str]:
    """(kind, JSON) of anything but a reading. ValueError for a number that is not finite."""
    if isinstance(told, Reading):
        raise TypeError("a reading is not kept as JSON")
    return _kind_of(told, JOURNAL_KINDS), to_json(told)


def outcome_payload(outcome: AlarmOutcome | PromptOutcome) -> tuple[str, str]:
    """(kind, JSON) of an outcome that is kept. ValueError for a number that is not finite."""
    return _kind_of(outcome, OUTCOME_KINDS), to_json(outcome)


def _kind_of(value: object, kinds: dict[str, Any]) -> str:
    return next(kind for kind, shape in kinds.items() if isinstance(value, shape))


def journal_value(kind: str, payload: str) -> Kept:
    """What a journal row told. UnreadablePayload for an unknown kind or a wrong shape."""
    return _of_kind(JOURNAL_KINDS, kind, payload)


def outcome_value(kind: str, payload: str) -> AlarmOutcome | PromptOutcome:
    """An outcome that was kept. UnreadablePayload for an unknown kind or a wrong shape."""
    return _of_kind(OUTCOME_KINDS, kind, payload)


def _of_kind(kinds: dict[str, type[T]], kind: str, payload: str) -> T:
    if kind not in kinds:
        raise UnreadablePayload(f"the kind {kind!r} is not known")
    return from_json(payload, kinds[kind])


def to_json(value: object) -> str:
    """One line of JSON. Fields that stand at their default are left out. ValueError for NaN and infinity."""
    return json.dumps(_plain(value), ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def from_json(text: str, shape: type[T]) -> T:
    """The value of this dataclass. UnreadablePayload for JSON of another shape."""
    try:
        value: T = _shaped(json.loads(text), shape)
    except (TypeError, ValueError) as problem:
        raise UnreadablePayload(f"{shape.__name__}: {problem}") from problem
    return value


def _plain(value: object) -> object:
    if is_dataclass(value):
        # Every field is written, also where it stands at its default: a default may change, the record may not.
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return value  # a str, int, float, bool, None or StrEnum: json knows them, and refuses the rest


@cache
def _hints(shape: type) -> dict[str, Any]:
    return get_type_hints(shape)


def _shaped(plain: Any, shape: Any) -> Any:
    origin = get_origin(shape)
    if origin in (UnionType, Union):
        return _one_of(plain, get_args(shape))
    if origin is tuple:
        return _tuple(plain, get_args(shape))
    if is_dataclass(shape):
        if not isinstance(plain, dict):
            raise TypeError(f"{plain!r} is not an object")
        hints = _hints(shape)  # type: ignore[arg-type]
        if unknown := plain.keys() - hints.keys():
            raise TypeError(f"unknown field {', '.join(sorted(unknown))}")
        return shape(**{name: _shaped(held, hints[name]) for name, held in plain.items()})  # type: ignore[operator]
    if issubclass(shape, StrEnum):
        return shape(plain)
    if type(plain) is shape or (shape is float and type(plain) is int):
        return plain
    raise TypeError(f"{plain!r} is not a {shape.__name__}")


def _one_of(plain: Any, shapes: tuple[Any, ...]) -> Any:
    """The first shape that fits; JSON tells numbers, words, objects and null apart, which is all our unions need."""
    if plain is None and NoneType in shapes:
        return None
    for shape in shapes:
        try:
            return _shaped(plain, shape)
        except (TypeError, ValueError):
            continue
    raise TypeError(f"{plain!r} fits none of what is allowed")


def _tuple(plain: Any, shapes: tuple[Any, ...]) -> tuple[Any, ...]:
    if not isinstance(plain, list):
        raise TypeError(f"{plain!r} is not a list")
    if len(shapes) == 2 and shapes[1] is Ellipsis:
        return tuple(_shaped(item, shapes[0]) for item in plain)
    if len(plain) != len(shapes):
        raise TypeError(f"{len(plain)} items where {len(shapes)} belong")
    return tuple(_shaped(item, shape) for item, shape in zip(plain, shapes, strict=True))
