"""A checked reader of one TOML table: every refusal names file and key, what stands there and what may."""

import re
import tomllib
from collections.abc import Mapping
from enum import StrEnum
from typing import TypeVar

from spyhole.core.refusal import Refusal

Word = TypeVar("Word", bound=StrEnum)
Default = TypeVar("Default")

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_AT_LINE = re.compile(r"(.*) \(at line (\d+), column \d+\)", re.DOTALL)
_LONGEST_SHOWN = 60


def table_from_toml(text: str, file: str) -> dict[str, object]:
    """The table in this text; Refusal naming file and line for what is not TOML."""
    if not text.strip():
        raise Refusal(f"{file} line 1", "the file is empty")
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        found = _AT_LINE.fullmatch(str(error))
        line = found[2] if found else str(len(text.splitlines()))
        why = found[1] if found else "it breaks off or nests too deep"
        raise Refusal(
            f"{file} line {line}",
            f"this is not TOML ({why[:1].lower()}{why[1:]})",
            'a line reads key = value, with text in quotes: cone = "05"',
        ) from None


def shown(value: object) -> str:
    """A value as its writer would recognise it, cut short where it is long."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) > 10**15:
        return "a number beyond all bounds"
    if isinstance(value, dict | list):
        return "a table" if isinstance(value, dict) else "a list"
    words = repr(value) if isinstance(value, str) else str(value)
    return words if len(words) <= _LONGEST_SHOWN else f"{words[:_LONGEST_SHOWN]}..."


def number_text(value: float) -> str:
    """A number without an idle decimal point.

    >>> number_text(9.0), number_text(9.25)
    ('9', '9.25')
    """
    return str(int(value)) if value == int(value) else repr(value)


class Fields:
    """One table of a file.

    table: what stands there. file: its name, for messages. path: the table's place, "" for the whole file.
    keys: the keys it may have; any other is refused at once.
    """

    def __init__(self, table: Mapping[str, object], file: str, path: str, keys: tuple[str, ...]) -> None:
        self._table = table
        self._file = file
        self._path = path
        for key in table:
            if key not in keys:
                raise Refusal(self.where(key), "there is no such key", f"the keys here are {', '.join(keys)}")

    def where(self, key: str) -> str:
        """File and key, for a message; the key alone where there is no file."""
        return f"{self._file}, {self._place(key)}" if self._file else self._place(key)

    def _place(self, key: str) -> str:
        shown_key = key if len(key) <= _LONGEST_SHOWN and key.isprintable() else shown(key)
        return f"{self._path}, {shown_key}" if self._path else shown_key

    def has(self, key: str) -> bool:
        """Whether the key stands there."""
        return key in self._table

    def refuse(self, key: str, problem: str, allowed: str = "") -> Refusal:
        """A refusal at this key, to raise."""
        return Refusal(self.where(key), problem, allowed)

    def raw(self, key: str, allowed: str) -> object:
        """Whatever stands there, for a check of the caller's own; required."""
        if key not in self._table:
            raise self.refuse(key, "it is missing", allowed)
        return self._table[key]

    def text(self, key: str, example: str) -> str:
        """A line of text, 1 to 60 printable characters; required."""
        allowed = f"it is text in quotes, 1 to 60 characters, for example {example!r}"
        value = self.raw(key, allowed)
        if not isinstance(value, str):
            raise self.refuse(key, f"{shown(value)} is not text", allowed)
        if not value.strip() or value != value.strip() or len(value) > _LONGEST_SHOWN or not value.isprintable():
            raise self.refuse(key, f"{shown(value)} is no name", allowed)
        return value

    def word(self, key: str, kind: type[Word]) -> Word:
        """One of the words of this kind; required."""
        allowed = f"it is one of {', '.join(kind)}"
        value = self.raw(key, allowed)
        if not isinstance(value, str) or value not in list(kind):
            raise self.refuse(key, f"{shown(value)} is not one of its words", allowed)
        return kind(value)

    def word_or(self, key: str, kind: type[Word], default: Default) -> Word | Default:
        """One of the words of this kind, or the default where the key is missing."""
        return self.word(key, kind) if self.has(key) else default

    def number(self, key: str, low: float, high: float, unit: str) -> float:
        """A number from low to high; required. NaN and infinity lie outside any range."""
        allowed = f"it is a number from {number_text(low)} to {number_text(high)} {unit}".rstrip()
        value = self.raw(key, allowed)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.refuse(key, f"{shown(value)} is not a number", allowed)
        if not low <= value <= high:
            raise self.refuse(key, f"{shown(value)} is out of range", allowed)
        return float(value)

    def whole(self, key: str, low: int, high: int) -> int:
        """A whole number from low to high; required. 8.0 is one."""
        value = self.number(key, low, high, "")
        if value != int(value):
            raise self.refuse(key, f"{value:g} is not whole", f"it is a whole number from {low} to {high}")
        return int(value)

    def number_or(self, key: str, default: Default, low: float, high: float, unit: str) -> float | Default:
        """A number from low to high, or the default where the key is missing."""
        return self.number(key, low, high, unit) if self.has(key) else default

    def flag(self, key: str, default: bool) -> bool:
        """true or false, or the default where the key is missing."""
        value = self._table.get(key, default)
        if not isinstance(value, bool):
            raise self.refuse(key, f"{shown(value)} is neither yes nor no", "it is true or false, without quotes")
        return value

    def table(self, key: str, keys: tuple[str, ...]) -> "Fields":
        """The table under this key; empty where the key is missing."""
        value = self._table.get(key, {})
        if not isinstance(value, dict):
            raise self.refuse(key, f"{shown(value)} is not a table", f"its keys are {', '.join(keys)}")
        return Fields(value, self._file, self._place(key), keys)

    def tables(self, key: str, keys: tuple[str, ...], most: int) -> tuple["Fields", ...]:
        """The tables of a list ([[key]] in the file), none to `most`, counted from 1 in messages."""
        value = self._table.get(key, [])
        if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
            raise self.refuse(key, f"{shown(value)} is not a list of tables", f"each begins with [[{key}]]")
        if len(value) > most:
            raise self.refuse(key, f"there are {len(value)}", f"there may be {most}")
        return tuple(Fields(one, self._file, f"{self._place(key)} {i}", keys) for i, one in enumerate(value, 1))


def toml_value(value: str | bool | float | Mapping[str, str | float]) -> str:
    """A value as TOML writes it; a mapping becomes an inline table.

    >>> toml_value({"bottom": "low", "top ring": 9.0}), toml_value('say "05"'), toml_value(True)
    ('{ bottom = "low", "top ring" = 9 }', '"say \\\\"05\\\\""', 'true')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{toml_key(key)} = {toml_value(one)}" for key, one in value.items()) + " }"
    return number_text(value)


def toml_key(key: str) -> str:
    """A key as TOML writes it, quoted where it must be."""
    return key if _BARE_KEY.fullmatch(key) else toml_value(key)


def toml_lines(values: Mapping[str, str | bool | float | Mapping[str, str | float] | None]) -> list[str]:
    """One `key = value` line each; None is left out."""
    return [f"{toml_key(key)} = {toml_value(value)}" for key, value in values.items() if value is not None]
