"""Who asks, known while one request is answered. The guard says; routes and shapes look."""

from collections.abc import Callable
from contextvars import ContextVar

from spyhole.core.access import Role, Visitor
from spyhole.services.access import Access

_asking: ContextVar[Visitor | None] = ContextVar("asking", default=None)
_access: ContextVar[Access | None] = ContextVar("access", default=None)


def welcome(visitor: Visitor, access: Access) -> None:
    """From here on this request is theirs."""
    _asking.set(visitor)
    _access.set(access)


def asking() -> Visitor:
    """Who asks; a nameless keeper where the page stands without a door, in a test."""
    return _asking.get() or Visitor("", Role.KEEPER)


def still_welcome() -> Callable[[], bool]:
    """For an answer that goes on for long: whether whoever asked would be let in again."""
    visitor, access = asking(), _access.get()
    return lambda: access is None or access.still(visitor)


def own_name(said: str) -> str:
    """The name that is written down: somebody who came in by name acts in no other."""
    return asking().name or said
