"""The composition root: the one place where all rooms are known, read from top to bottom.

Each part goes onto the stack as it is born, so a daemon that fails half-built lets go of exactly what it had, and a
whole one stops in the reverse order: page, sampler, couriers, housekeeping, watch, record.
"""

import logging
import shutil
import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from spyhole.app.access import ACT as ACCESS_ACT
from spyhole.app.access import access_in, cookie_of, names_of, page_of, rows_of
from spyhole.app.access import do as let_in
from spyhole.app.backing_up import ACT as BACKUP_ACT
from spyhole.app.backing_up import Backups
from spyhole.app.clock import MachineClock
from spyhole.app.codec import codec
from spyhole.app.exporting import ACT as EXPORT_ACT
from spyhole.app.exporting import answering as export_by
from spyhole.app.guest import Guest, bind
from spyhole.app.hatch import STANDING, Act, Hatch
from spyhole.app.lifecycle import Lifecycle, on_leaving
from spyhole.app.memory import Thrift
from spyhole.app.notify import Notifier
from spyhole.app.outward import heartbeat, reach_out, state_topics
from spyhole.app.people import ACT, check_address, do
from spyhole.app.reach_settings import ReachSettings
from spyhole.app.reporting import answering, press_beside
from spyhole.app.schedule import BACKUP, DRIFTS, FORGET, LOOK, REPORTS, TIDY, WEEKLY, Housekeeping
from spyhole.app.selftest import ACT as SELFTEST_ACT
from spyhole.app.selftest import found_by_selftest
from spyhole.app.settings import LOOPBACK, READINGS_DAYS
from spyhole.app.wiring import Wiring, fit_out
from spyhole.core.ports import ClockPort, CurrentPort, MessengerPort, ProbesPort, RehearsalPort
from spyhole.core.report.tariff import Tariff
from spyhole.services.access import Access
from spyhole.services.ammeter import Ammeter
from spyhole.services.archive import Archive, ArchiveTrouble, PendingMessage
from spyhole.services.backups import KEEP, Keep
from spyhole.services.beat import Beat
from spyhole.services.book import Book
from spyhole.services.care import CareBook
from spyhole.services.conditions import Conditions
from spyhole.services.disk_room import DiskRoom
from spyhole.services.drifting import DriftNews
from spyhole.services.exercising import Tutor
from spyhole.services.keeping import line_of_the_book
from spyhole.services.morning import Morning
from spyhole.services.office import Office
from spyhole.services.others import OtherKiln
from spyhole.services.oversight import BusOversight
from spyhole.services.plans import Plans
from spyhole.services.reporting import Reporter
from spyhole.services.sampler import Sampler
from spyhole.services.studio import Studio
from spyhole.services.telling import Telling
from spyhole.services.using import Use
from spyhole.services.watchkeeper import Watchkeeper
from spyhole.services.what_if import WhatIf
from spyhole.store.location import location_of
from spyhole.store.troubles import Trouble
from spyhole.store.upkeep import Upkeep
from spyhole.store.writer import Pace

log = logging.getLogger(__name__)

CLOSE_SECONDS = 5.0
BETWEEN_PIECES_SECONDS = 0.1
"""Between two pieces of a long tidying, for the one who writes."""


@dataclass(frozen=True, slots=True)
class World:
    """What the daemon finds outside itself: real, a rehearsal's or a test's.

    stop_clock: ends every wait on the clock. messengers: recipient and the way to reach them. wiring: in the room.
    by_themselves: who writes entries in a rehearsal without being a person. bus_held: whether another program keeps the
    bus of the amplifiers. currents: the kiln's current transformers, if it has any.
    """

    clock: ClockPort
    stop_clock: Callable[[], None]
    probes: ProbesPort
    messengers: tuple[tuple[str, MessengerPort], ...] = ()
    rehearsal: RehearsalPort | None = None
    wiring: Wiring | None = None
    by_themselves: frozenset[str] = frozenset()
    bus_held: Callable[[], bool] = lambda: False
    currents: CurrentPort | None = None


@dataclass(frozen=True, slots=True)
class Daemon:
    """A daemon that is built but takes no readings yet."""

    watchkeeper: Watchkeeper
    sampler: Sampler
    guest: Guest
    telling: Telling
    office: Office
    lifecycle: Lifecycle
    access: Access
    page_address: str

    @property
    def address(self) -> str:
        """Where the page is, on this machine."""
        return f"http://localhost:{self.guest.port}"


def build(
    studio: Studio,
    world: World,
    data: Path,
    *,
    port: int,
    listen: str = LOOPBACK,
    notifier: Notifier,
    pace: Pace | None = None,
    database: str = "",
    unkept: Trouble | None = None,
    keep_readings_days: int = READINGS_DAYS,
    keep_backups: Keep = KEEP,
    reach: ReachSettings | None = None,
    tariff: Tariff | None = None,
    others: Callable[[], tuple[OtherKiln, ...]] = tuple,
    progress: Callable[[int], None] = lambda rows: None,
    begin: Callable[[Sampler], None] = lambda sampler: None,
) -> Daemon:
    """Everything wired, the state recovered or soon, page and couriers at work; `sampler.start` begins the watch.

    unkept: what is to be said of a record that no card keeps; it gets no backup.
    others: kilns of this machine that have a page of their own.
    begin: called when all but the page is there, for who starts the sampler without waiting for it.
    Refusal for a port in use or a data folder that another daemon holds.
    """
    with ExitStack() as teardown:
        conditions = Conditions(lambda: world.clock.now().utc_ms)
        location = location_of(data, database)
        disk = DiskRoom(lambda: shutil.disk_usage(data).free, conditions)
        record = location.open(seconds=time.monotonic, tell=disk.told, pace=pace, lasting=unkept)
        on_leaving(teardown, "record", lambda: record.close(CLOSE_SECONDS))

        reach = reach or ReachSettings()
        outward = reach_out(reach, world.messengers, record, conditions, world.clock, data, studio.kiln.name)
        telling = outward.telling
        office = Office(
            studio.kiln.name, outward.roster, telling, record, lambda: world.clock.now().utc_ms, check_address,
            broker=outward.broker is not None,
        )  # fmt: skip

        reporter = Reporter(record, studio.kiln.name, studio.manner, tariff, press_beside)
        morning = Morning(
            studio.kiln.name, office.people, telling, record, reporter, studio.manner,
            lambda: world.clock.now().utc_ms, reach.page_address,
        )  # fmt: skip

        # The watch that this asks is born further down; nothing asks before it is.
        care = CareBook(record, studio.kiln, studio.manner, lambda: watchkeeper.state)
        drifts = DriftNews(
            studio.kiln.name, office.people, telling, record, care.drifting, studio.manner,
            lambda: world.clock.now().utc_ms, reach.page_address,
        )  # fmt: skip

        upkeep = location.upkeep(lambda: time.sleep(BETWEEN_PIECES_SECONDS))
        jobs: dict[str, Callable[[], object]] = {
            LOOK: disk.look,
            TIDY: upkeep.tidy,
            FORGET: lambda: forget(upkeep, keep_readings_days, world.clock),
            WEEKLY: office.weekly,
            REPORTS: morning.look,
            DRIFTS: drifts.look,
        }
        acts: dict[str, Act] = {}
        backups = Backups(data, keep_backups, conditions)
        has_backups = location.url is None and unkept is None  # a server makes its own
        if has_backups:
            jobs[BACKUP], acts[BACKUP_ACT] = backups.nightly, backups.asked
        housekeeping = Housekeeping(MachineClock().now, conditions, jobs)
        on_leaving(teardown, "housekeeping", housekeeping.stop)
        on_leaving(teardown, "backups", backups.stop)

        watchkeeper = Watchkeeper(studio, world.clock, record, telling, conditions, codec(), world.rehearsal)
        on_leaving(teardown, "watch", watchkeeper.close)
        telling.show(watchkeeper.now, studio.manner)
        watchkeeper.recover_beside(progress)

        on_leaving(teardown, "couriers", telling.stop)
        telling.start(left_over(record))

        if outward.broker is not None:
            outward.broker.state = state_topics(watchkeeper.now)
            on_leaving(teardown, "broker", outward.broker.stop)
            outward.broker.start()

        room = fit_out(world.wiring, watchkeeper, conditions, world.clock, studio.tick_seconds)
        if room is not None:
            on_leaving(teardown, "room", room.stop)
            room.start()

        beat = Beat(time.monotonic, notifier.alive, *(() if room is None else (room.fed,)))
        outside = heartbeat(reach, outward.broker, lambda: beat.ticks, world.clock, conditions)
        on_leaving(teardown, "heartbeat", outside.stop)
        outside.start()
        on_leaving(teardown, "probes", world.probes.close)
        sampler = Sampler(
            world.probes,
            world.clock,
            watchkeeper.take,
            every_ms=round(studio.tick_seconds * 1000),
            probe_count=len(studio.kiln.probe_rings),
            beat=beat,
            conditions=conditions,
            beside=beside(world, watchkeeper, conditions),
        )
        on_leaving(teardown, "sampler", sampler.stop)
        on_leaving(teardown, "clock", world.stop_clock)

        bound = bind(listen, port)
        on_leaving(teardown, "port", bound.close)
        page_address = page_of(listen, bound.getsockname()[1], reach.page_address)
        alone = studio.emulated and listen == LOOPBACK and not reach.page_address
        office.door = access = access_in(data, welcome=office.make_known, open_house=alone)
        cookie, signed = cookie_of(studio.kiln.name), outward.links
        book = Book(record, studio.kiln.name, studio.manner, lambda: line_of_the_book(watchkeeper.keeping))
        what_if = WhatIf(record, studio.kiln.name, studio.manner, tariff, lambda: watchkeeper.state)
        hatch = Hatch(
            data,
            {
                ACT: lambda given: do(office, given),
                "report": answering(reporter, data),
                EXPORT_ACT: export_by(record, data),
                ACCESS_ACT: lambda given: let_in(access, page_address, given),
                STANDING: lambda given: standing_of(watchkeeper, studio),
                SELFTEST_ACT: lambda given: found_by_selftest(conditions, given),
                **acts,
            },
        )
        on_leaving(teardown, "hatch", hatch.stop)
        hatch.start()

        # An exercise is brought to its moment by a keeper who writes down what he does.
        tutor = tutor_of(watchkeeper, record, world) if world.rehearsal is not None and world.by_themselves else None
        if tutor is not None:
            on_leaving(teardown, "exercise", tutor.stop)

        begin(sampler)
        from spyhole.app import front

        page = front.build_page(
            watchkeeper,
            allowed_hosts=names_of(listen, reach.page_address),
            numbers=listen != LOOPBACK,
            access=access,
            cookie=cookie,
            emulated=tutor is not None,
            more=(
                front.door_routes(access, cookie, page_address, rows_of),
                front.report_routes(reporter),
                front.plan_routes(Plans(watchkeeper, studio.kiln, care.before_lighting), studio.kiln),
                front.book_routes(book, what_if),
                front.care_routes(
                    care,
                    Use(record, studio.kiln.name, reporter.energy, lambda: world.clock.now().utc_ms),
                ),
                front.people_routes(office),
                front.kiln_routes(others),
                front.studio_routes(studio, conditions, backups if has_backups else None),
                *(() if signed is None else (front.link_routes(watchkeeper, signed, watchkeeper.in_reach),)),
                *(() if room is None else (front.room_routes(watchkeeper),)),
                *(() if world.rehearsal is None else (front.rehearsal_routes(watchkeeper.panel),)),
                *(() if tutor is None else (front.exercise_routes(tutor),)),
            ),
        )
        guest = Guest(page, bound, conditions, lambda: front.end_streams(page))
        on_leaving(teardown, "page", guest.stop)
        on_leaving(teardown, "systemd", notifier.stopping)
        guest.start()
        housekeeping.start()

        looks: tuple[Callable[[], bool], ...] = (
            sampler.look_after,
            BusOversight(world.bus_held, conditions).look,
            guest.look_after,
            housekeeping.look_after,
            watchkeeper.escalate,
            Thrift().look,
        )
        lifecycle = Lifecycle(teardown.pop_all(), looks)
        return Daemon(watchkeeper, sampler, guest, telling, office, lifecycle, access, page_address)


def beside(world: World, watchkeeper: Watchkeeper, conditions: Conditions) -> Callable[[], None]:
    """What else is done on the bus after each reading."""
    if world.currents is None:
        return lambda: None
    return Ammeter(world.currents, world.clock, watchkeeper.take_drawn, conditions).look


def tutor_of(watchkeeper: Watchkeeper, record: Archive, world: World) -> Tutor:
    """Who runs exercises on the emulated kiln."""

    def unseen() -> list[tuple[str, str | None]]:
        return [(a.tag, a.ring) for a in watchkeeper.state.alarms.alarms if a.active and not a.acknowledged]

    return Tutor(
        watchkeeper.panel,
        watchkeeper,
        record,
        lambda: world.clock.now().monotonic_ms,
        alarms=unseen,
        keepers=world.by_themselves,
    )


def standing_of(watchkeeper: Watchkeeper, studio: Studio) -> str:
    """For who would restart this: whether a real kiln is being fired."""
    firing = watchkeeper.state.firing
    return "firing" if firing is not None and firing.under_way and not studio.emulated else "idle"


def left_over(record: Archive) -> list[PendingMessage]:
    """What an earlier run did not get to tell. A record that cannot be read must not keep a watch from beginning."""
    try:
        return record.pending_messages()
    except ArchiveTrouble:
        log.exception("messages of an earlier run could not be read")
        return []


def forget(upkeep: Upkeep, days: int, clock: ClockPort) -> None:
    """Let old readings go: by their age where the clock is to be believed, else by their number."""
    now = clock.now()
    upkeep.forget_readings(days, now.utc_ms if now.synchronised else None)
