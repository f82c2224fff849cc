"""The shelf of plans: several by name, kept until somebody takes one down."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from spyhole.core.plan import Plan

MOST_PLANS = 40
_LONGEST_KEY = 40
_NOT_IN_KEYS = re.compile(r"[^a-z0-9]+")


@dataclass(frozen=True, slots=True)
class KeptPlan:
    """key: what it is asked for by, for ever. version: sequence of the row that wrote it, so it says who came first."""

    key: str
    plan: Plan
    version: int


Shelf = tuple[KeptPlan, ...]


def shelve(shelf: Shelf, key: str, plan: Plan | None, version: int) -> Shelf:
    """The shelf with this plan in its place, or at the end; without it where it is None."""
    if plan is None:
        return tuple(one for one in shelf if one.key != key)
    kept = KeptPlan(key, plan, version)
    if any(one.key == key for one in shelf):
        return tuple(kept if one.key == key else one for one in shelf)
    return (*shelf, kept)


def key_of(name: str, taken: Iterable[str] = ()) -> str:
    """A key for a plan of this name that none of those taken is.

    >>> key_of("Bisque, cone 05, overnight"), key_of("Bisque", ["bisque"])
    ('bisque-cone-05-overnight', 'bisque-2')
    """
    there = set(taken)
    stem = _NOT_IN_KEYS.sub("-", name.lower()).strip("-")[:_LONGEST_KEY].strip("-") or "plan"
    key, number = stem, 1
    while key in there:
        number += 1
        key = f"{stem}-{number}"
    return key


def copy_name(name: str, taken: Iterable[str]) -> str:
    """What a copy is called until somebody says better.

    >>> copy_name("Glaze", ["Glaze", "Glaze, copy"])
    'Glaze, copy 2'
    """
    there, stem, number = set(taken), name[:48], 1
    found = f"{stem}, copy"
    while found in there:
        number += 1
        found = f"{stem}, copy {number}"
    return found
