"""Everything that reaches out of the house: people by their channels, a broker, an outside heartbeat."""

import logging
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from spyhole.app.reach_settings import ReachSettings
from spyhole.channels.apprise_channel import AppriseChannel, find_service
from spyhole.channels.heartbeat import HttpBeat
from spyhole.channels.links import SignedLinks, key_in
from spyhole.channels.mqtt import Broker, MqttMessenger, broker_address
from spyhole.core.ports import ClockPort, MessengerPort
from spyhole.services.archive import Archive, ArchiveTrouble
from spyhole.services.conditions import Conditions
from spyhole.services.courier import Courier
from spyhole.services.heartbeat import Heartbeat, Send
from spyhole.services.links import VALID_MS, Claim, LinksPort, Purpose
from spyhole.services.outbox import KEYS_AT_MOST, Link, Outbox
from spyhole.services.people import STUDIO_BROKER, Channel, People, Person, recipient
from spyhole.services.roster import Roster
from spyhole.services.snapshot import Snapshot
from spyhole.services.telling import Telling

log = logging.getLogger(__name__)

Messengers = tuple[tuple[str, MessengerPort], ...]

RECIPIENT = "keeper"
"""Whoever the one address of the settings reaches; people of the record have names and channels of their own."""


@dataclass(frozen=True, slots=True)
class Outward:
    """links: None where messages carry none. broker: None where there is none."""

    telling: Telling
    roster: Roster
    links: LinksPort | None
    broker: Broker | None


def reach_out(
    reach: ReachSettings,
    messengers: Messengers,
    record: Archive,
    conditions: Conditions,
    clock: ClockPort,
    data: Path,
    kiln: str,
) -> Outward:
    """Couriers for everybody, and what they need. messengers: of people who are in no record, by their name."""
    broker = Broker(broker_address(reach.mqtt, "mqtt, url"), kiln, reach.mqtt_topic) if reach.mqtt else None
    links = SignedLinks(key_in(data)) if reach.page_address else None
    try:
        kept, told, last = record.people(), record.told_keys(KEYS_AT_MOST), record.last_told()
    except ArchiveTrouble:
        log.exception("who is to be told could not be read")
        kept, told, last = People(), [], {}
    roster = Roster(record, kept, tuple(Person(name, channels=(Channel("", ""),)) for name, _ in messengers))
    given = dict(messengers)

    def courier(person: Person, channel: Channel) -> Courier:
        name = recipient(person.name, channel.name)
        messenger: MessengerPort = AppriseChannel(channel.address)
        if not channel.name:
            messenger = given[person.name]
        elif channel.address == STUDIO_BROKER:
            messenger = MqttMessenger(broker, person.name)
        made = Courier(name, messenger, record, conditions, utc_ms=lambda: clock.now().utc_ms, seconds=time.monotonic)
        made.told_utc_ms = last.get(name)
        return made

    outbox = Outbox(
        lambda: roster.people, told, link_maker(links, reach.page_address), reach.ladders, reach.emergency_rule
    )
    telling = Telling(outbox=outbox, open_courier=courier)
    telling.kept = lambda: roster.kept
    telling.gone = lambda key: record.message_failed(key, "there is no such channel any more", give_up=True)
    telling.follow(roster.people, conditions)
    roster.changed = lambda people: telling.follow(people, conditions)
    return Outward(telling, roster, links, broker)


def messengers_of(address: str, where: str) -> Messengers:
    """The one recipient, if there is an address. Refusal, at `where`, when nothing can be sent to it."""
    if not address:
        return ()
    return ((RECIPIENT, AppriseChannel(address, find_service(address, where))),)


def link_maker(links: LinksPort | None, address: str) -> Link:
    """The address that answers a message."""

    def link(purpose: str, subject: str, person: str, utc_ms: int) -> str:
        if links is None:
            return ""
        return f"{address}/link/{links.sign(Claim(Purpose(purpose), subject, person, utc_ms + VALID_MS))}"

    return link


def heartbeat(
    reach: ReachSettings, broker: Broker | None, ticks: Callable[[], int], clock: ClockPort, conditions: Conditions
) -> Heartbeat:
    """By every way the settings name."""
    ways: dict[str, Send] = {}
    if reach.heartbeat:
        ways["web"] = HttpBeat(reach.heartbeat, post=reach.heartbeat_post)
    if broker is not None:
        ways["mqtt"] = lambda: broker.beat(ticks(), clock.now().utc_ms)
    return Heartbeat(ticks, ways, conditions)


def state_topics(now: Callable[[], Snapshot]) -> Callable[[], dict[str, object]]:
    """What stands retained at the broker; see `channels.mqtt`."""

    def state() -> dict[str, object]:
        seen = now()
        return {
            "state": {
                "utc_ms": seen.now_utc_ms // 10_000 * 10_000,
                "sentence": seen.sentence,
                "mood": seen.mood,
                "stage": seen.firing.stage if seen.firing is not None else "",
                "rings": {ring.name: ring.celsius for ring in seen.rings},
                "cones": {cone.role: {"cone": cone.cone, "stands": cone.words} for cone in seen.cones},
            },
            "alarms": [
                {
                    "episode": alarm.episode,
                    "tag": alarm.tag,
                    "ring": alarm.ring,
                    "priority": alarm.priority,
                    "acknowledged": alarm.acknowledged,
                    "since_utc_ms": alarm.since_utc_ms,
                    "seen": alarm.seen,
                    "first_action": alarm.first_action,
                }
                for alarm in seen.alarms
            ],
        }

    return state
