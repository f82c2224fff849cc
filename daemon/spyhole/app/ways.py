"""Everybody who can be reached while no daemon runs: by the address of the settings, and by people's own channels."""

from dataclasses import dataclass

from spyhole.app.outward import messengers_of
from spyhole.app.settings import Settings
from spyhole.channels.apprise_channel import AppriseChannel
from spyhole.core.ports import MessengerPort
from spyhole.services.people import STUDIO_BROKER
from spyhole.store.database import DATABASE
from spyhole.store.location import location_of


@dataclass(frozen=True, slots=True)
class Way:
    """name: whom, and by what; never an address. messenger: None by the studio's broker, a daemon's own."""

    name: str
    messenger: MessengerPort | None


def ways_of_settings(settings: Settings) -> list[Way]:
    """What `tell` names, if anything. Refusal."""
    return [Way("as the settings say", messenger) for _, messenger in messengers_of(settings.tell, "tell")]


def ways_of_people(settings: Settings) -> list[Way]:
    """Each channel of each person. Refusal where the record cannot be read, as while a daemon has it open."""
    if not settings.database and not (settings.data / DATABASE).exists():
        return []
    with location_of(settings.data, settings.database).read() as records:
        everybody = records.people().everybody
    return [
        Way(f"{person.name}, {way.name}", None if way.address == STUDIO_BROKER else AppriseChannel(way.address))
        for person in everybody
        for way in person.channels
        if way.address
    ]
