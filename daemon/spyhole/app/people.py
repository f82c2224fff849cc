"""`spyhole people`: who is told, and how. Done by the daemon where one runs, else in the record itself."""

import re
import time
from contextlib import ExitStack
from pathlib import Path

from spyhole.app.access import access_in
from spyhole.app.clock import MachineClock
from spyhole.app.hatch import Given, ask
from spyhole.app.outward import messengers_of, reach_out
from spyhole.app.settings import Settings, read_settings
from spyhole.channels.apprise_channel import find_service
from spyhole.core.refusal import Refusal
from spyhole.services.conditions import Conditions
from spyhole.services.courier import Reach
from spyhole.services.office import Office
from spyhole.services.people import Rang, Role
from spyhole.services.telling import Delivery
from spyhole.store.location import location_of

ACT = "people"
TRIAL_SECONDS = 12.0
TIME_OF_DAY = re.compile(r"([01]\d|2[0-3]):([0-5]\d)")


def people(config: Path, given: Given) -> int:
    """Do it and print what came of it. Refusal."""
    settings = read_settings(config)
    said = ask(settings.data, ACT, given)
    print(_alone(settings, given) if said is None else said)
    return 0


def do(office: Office, given: Given) -> str:
    """One act, by its words; what came of it, for a person. Refusal."""
    act, name = given["do"], given.get("name", "")
    channel = given.get("channel", "")
    if act == "add":
        return _stored(office.add(name, Role(given["role"])), f"{name} is there; give them a channel next")
    if act == "remove":
        return _stored(office.remove(name), f"{name} is told no longer, and cannot come in any more")
    if act == "channel":
        stored = office.channel(name, channel, given["address"], loud=given.get("loud") == "yes")
        return _stored(stored, f"{name} is told by {channel}; try it: spyhole people test {name} {channel}")
    if act == "drop":
        return _stored(office.without_channel(name, channel), f"{name} is told by {channel} no longer")
    if act == "quiet":
        hours = _hours(given["from"], given["to"])
        return _stored(office.quiet(name, hours), f"{name} has {_quiet(hours)}; high alarms come all the same")
    if act == "test":
        return _test(office, name, channel)
    if act == "rang":
        return _stored(office.rang(name, channel, Rang(given["rang"])), f"{name}, {channel}: {given['rang']}")
    return shown(office)


def shown(office: Office) -> str:
    """Everybody, a line a channel; no address."""
    everybody = office.people().everybody
    if not everybody:
        return "Nobody is told of anything. Add somebody: spyhole people add Ruth"
    ways = {(one.person, one.channel): one for one in office.deliveries()}
    lines = []
    for person in everybody:
        lines.append(f"{person.name}, {person.role}, {_quiet(person.quiet)}")
        lines += [f"  {_way(way)}" for (who, _), way in ways.items() if who == person.name]
        if not person.channels:
            lines.append("  no channel: nothing reaches them")
    return "\n".join(lines)


def _way(way: Delivery) -> str:
    name = way.channel or "as the settings say"
    said = {Rang.UNKNOWN: "not tried", Rang.YES: "it rang when tried", Rang.NO: "IT DID NOT RING when tried"}[way.rang]
    told = "nothing sent yet" if way.told_utc_ms is None else f"last told {time.strftime('%F %H:%M', _local(way))}"
    error = f"; {way.reach}: {way.error}" if way.error else ""
    waiting = f"; {way.waiting} waiting" if way.waiting else ""
    return f"{name}{', loud' if way.loud else ''}: {said}; {told}{error}{waiting}"


def _local(way: Delivery) -> time.struct_time:
    return time.localtime((way.told_utc_ms or 0) / 1000)


def _test(office: Office, name: str, channel: str) -> str:
    office.people().person(name).channel(channel)
    before = next(one.told_utc_ms for one in office.deliveries() if (one.person, one.channel) == (name, channel))
    office.test(name, channel)
    end = time.monotonic() + TRIAL_SECONDS
    while True:
        way = next(one for one in office.deliveries() if (one.person, one.channel) == (name, channel))
        if way.reach is Reach.WELL and way.waiting == 0 and way.told_utc_ms != before:
            return (
                f"The service took it. Look at the phone, then say so: spyhole people rang {name} {channel} yes (or no)"
            )
        if way.error and (way.reach is Reach.BROKEN or time.monotonic() > end):
            raise Refusal(f"{name}/{channel}", way.error, "look at the address and the network; it is tried again")
        if time.monotonic() > end:
            return "It is on its way and not taken yet. Look again in a minute: spyhole people list"
        time.sleep(0.05)


def _stored(stored: bool, words: str) -> str:
    return f"{words}." if stored else f"{words}. It is not on the disk yet; the log says why."


def _quiet(hours: tuple[int, int] | None) -> str:
    if hours is None:
        return "no quiet hours"
    return "quiet from {:02d}:{:02d} to {:02d}:{:02d}".format(*divmod(hours[0], 60), *divmod(hours[1], 60))


def _hours(begin: str, end: str) -> tuple[int, int] | None:
    if begin == "none":
        return None
    found = TIME_OF_DAY.fullmatch(begin), TIME_OF_DAY.fullmatch(end)
    if found[0] is None or found[1] is None:
        raise Refusal("quiet", f"{begin} {end} are no times of the day", "for example 22:00 07:00, or none")
    return int(found[0][1]) * 60 + int(found[0][2]), int(found[1][1]) * 60 + int(found[1][2])


def _alone(settings: Settings, given: Given) -> str:
    """No daemon runs: the record is opened for this one act."""
    clock = MachineClock()
    with ExitStack() as end:
        conditions = Conditions(lambda: clock.now().utc_ms)
        location = location_of(settings.data, settings.database)
        record = location.open(seconds=time.monotonic, tell=conditions.told)
        end.callback(lambda: record.close(5.0))
        messengers = messengers_of(settings.tell, "tell") if given["do"] in ("list", "test") else ()
        kiln = settings.kiln.name
        outward = reach_out(settings.reach, messengers, record, conditions, clock, settings.data, kiln)
        end.callback(outward.telling.stop)
        if outward.broker is not None and given["do"] == "test":
            end.callback(outward.broker.stop)
            outward.broker.start()
            outward.broker.connected.wait(5.0)
        outward.telling.start()
        office = Office(
            kiln, outward.roster, outward.telling, record, lambda: clock.now().utc_ms, check_address,
            broker=outward.broker is not None,
        )  # fmt: skip
        office.door = access_in(settings.data)
        return do(office, given)


def check_address(address: str) -> None:
    """Refusal for one that nothing can be sent to."""
    find_service(address, "address")
