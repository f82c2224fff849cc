"""A probe that drifts is told to the keepers: once, by day, and never as an alarm.

Cones say so after a firing, and nothing has to be done before the next: so it waits for daylight and for the end of
quiet hours. The key of a message names the probe by when it was new, so a restart tells nothing twice, and another
probe that drifts is told anew. Before each firing the page says it as well (`Plans.beginning`).
"""

from collections.abc import Callable
from datetime import datetime

from spyhole.core.words import Manner
from spyhole.services.archive import Archive, Message
from spyhole.services.care import Drifting
from spyhole.services.outbox import KEYS_AT_MOST
from spyhole.services.people import People, Role
from spyhole.services.telling import Telling, keep_and_tell

DAY_HOURS = range(7, 21)
"""Of the studio's day: outside of them nobody is told of a probe (chosen)."""


class DriftNews:
    """people: those of now. found: the probes that drift now. page: where it is, "" where nobody can tell.

    utc_ms: of the kiln's clock.
    """

    def __init__(
        self,
        kiln: str,
        people: Callable[[], People],
        telling: Telling,
        archive: Archive,
        found: Callable[[], tuple[Drifting, ...]],
        manner: Manner,
        utc_ms: Callable[[], int],
        page: str = "",
    ) -> None:
        self._kiln = kiln
        self._people = people
        self._telling = telling
        self._archive = archive
        self._found = found
        self._manner = manner
        self._utc_ms = utc_ms
        self._page = page

    def look(self) -> int:
        """Called now and then: tell each keeper what they were not told; returns how many messages."""
        now, zone = self._utc_ms(), self._manner.zone
        if datetime.fromtimestamp(now / 1000, zone).hour not in DAY_HOURS:
            return 0
        keepers = [to for person, to in self._people().awake(now, zone) if person.role is Role.KEEPER]
        drifting = self._found() if keepers else ()
        if not drifting:
            return 0
        told = set(self._archive.told_keys(KEYS_AT_MOST))
        messages = [
            Message(key, to, f"{self._kiln}: the {one.ring} probe seems to drift", self._text(one), False, now)
            for one in drifting
            for to in keepers
            if (key := f"{self._kiln}/drift-{one.ring}-{one.since_utc_ms}/{to}/0") not in told
        ]
        if messages:
            keep_and_tell(self._archive, self._telling, messages)
        return len(messages)

    def _text(self, one: Drifting) -> str:
        return f"{one.words}\n{f'All of it: {self._page}/care' if self._page else 'All of it is under Care.'}"
