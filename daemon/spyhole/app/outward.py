"""Everything that reaches out of the house: people by their channels, a broker, an outside heartbeat."""

import logging
import time
from collections.abc import Mapping
from dataclasses import dataclass, field

from spyhole.channels.apprise_channel import AppriseChannel
from spyhole.core.outcome import Priority
from spyhole.core.ports import ClockPort, MessengerPort
from spyhole.services.archive import Archive, ArchiveTrouble
from spyhole.services.conditions import Conditions
from spyhole.services.escalation import LADDERS, Ladder
from spyhole.services.outbox import KEYS_AT_MOST, Outbox
from spyhole.services.people import Channel, People, Person, recipient
from spyhole.services.roster import Roster
from spyhole.services.telling import Courier, Telling

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Outward:
    """What the settings say of it. ladders: by priority."""

    ladders: Mapping[Priority, Ladder] = field(default_factory=lambda: LADDERS)


def reach_people(
    outward: Outward,
    messengers: tuple[tuple[str, MessengerPort], ...],
    record: Archive,
    conditions: Conditions,
    clock: ClockPort,
) -> tuple[Telling, Roster]:
    """Couriers for everybody, and the list of them. messengers: of those who are in no record, by name."""
    try:
        kept, told, last = record.people(), record.told_keys(KEYS_AT_MOST), record.last_told()
    except ArchiveTrouble:
        log.exception("who is to be told could not be read")
        kept, told, last = People(), [], {}
    always = tuple(Person(name, channels=(Channel("", ""),)) for name, _ in messengers)
    roster = Roster(record, kept, always)
    given = dict(messengers)

    def utc_ms() -> int:
        return clock.now().utc_ms

    def courier(person: Person, channel: Channel) -> Courier:
        name = recipient(person.name, channel.name)
        messenger = given.get(person.name) if not channel.name else None
        made = Courier(
            name,
            messenger or AppriseChannel(channel.address),
            record,
            conditions,
            utc_ms=utc_ms,
            seconds=time.monotonic,
        )
        made.told_utc_ms = last.get(name)
        return made

    outbox = Outbox(lambda: roster.people, told, ladders=outward.ladders)
    telling = Telling(outbox=outbox, open_courier=courier)
    telling.follow(roster.people, conditions)
    roster.changed = lambda people: telling.follow(people, conditions)
    return telling, roster
