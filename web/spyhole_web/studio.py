"""The studio: the kiln as it is described, the state of the watch itself, and copies of its record."""

from dataclasses import dataclass

from fastapi import APIRouter

from spyhole.services import conditions as declared
from spyhole.services.backups import BackupsView, Copies
from spyhole.services.conditions import Conditions
from spyhole.services.studio import Studio
from spyhole_web import examples


@dataclass(frozen=True, slots=True)
class ProbeView:
    """type: its letter; tolerance_class: of IEC 60584-1; offset_celsius: added to what it reads."""

    type: str
    tolerance_class: int
    offset_celsius: float


@dataclass(frozen=True, slots=True)
class StudioRing:
    """One ring. probe: null where none looks at it."""

    name: str
    watts: float
    probe: ProbeView | None


@dataclass(frozen=True, slots=True)
class WatchPart:
    """A fault the watch can have. since_utc_ms: null while all is well with it."""

    code: str
    words: str
    since_utc_ms: int | None


@dataclass(frozen=True, slots=True)
class StudioView:
    """rings: from the bottom up. zone, unit: of messages and of sentences. watch: what holds first."""

    kiln: str
    emulated: bool
    maximum_celsius: float
    mains_volts: float
    cone_shutoff: bool
    timer_stops_in_power_cut: bool
    rings: list[StudioRing]
    tick_seconds: float
    zone: str
    unit: str
    watch: list[WatchPart]


STUDIO: examples.Example = {
    "kiln": "Puffin",
    "emulated": False,
    "maximum_celsius": 1240.0,
    "mains_volts": 230.0,
    "cone_shutoff": True,
    "timer_stops_in_power_cut": True,
    "rings": [
        {"name": "bottom", "watts": 2300.0, "probe": {"type": "K", "tolerance_class": 2, "offset_celsius": 0.0}},
    ],
    "tick_seconds": 1.0,
    "zone": "Europe/London",
    "unit": "degC",
    "watch": [{"code": "watch-late", "words": declared.LATE.words, "since_utc_ms": None}],
}
BACKUPS: examples.Example = {
    "newest": {"name": "record-2031-10-30T19-40-00Z.zip", "made_utc_ms": 1951155600000, "size_bytes": 48_213_004},
    "kept": 9,
    "making": False,
    "trouble": "",
}


def studio_routes(studio: Studio, conditions: Conditions, copies: Copies | None) -> APIRouter:
    """copies: None where a database server makes its own."""
    api = APIRouter(tags=["studio"])

    @api.get("/api/studio", responses=examples.answer(STUDIO))
    def described() -> StudioView:
        """The kiln as the settings describe it, and each part of the watch with its sentence."""
        kiln, manner = studio.kiln, studio.manner
        return StudioView(
            kiln=kiln.name,
            emulated=studio.emulated,
            maximum_celsius=kiln.maximum_celsius,
            mains_volts=kiln.mains_volts,
            cone_shutoff=kiln.cone_shutoff,
            timer_stops_in_power_cut=kiln.timer_stops_in_power_cut,
            rings=[
                StudioRing(
                    ring.name,
                    ring.watts,
                    None
                    if ring.probe is None
                    else ProbeView(ring.probe.type, ring.probe.tolerance_class, ring.probe.offset_celsius),
                )
                for ring in kiln.rings
            ],
            tick_seconds=studio.tick_seconds,
            zone=str(manner.zone),
            unit=manner.unit,
            watch=_watch(conditions),
        )

    if copies is None:
        return api

    @api.get("/api/backups", responses=examples.answer(BACKUPS))
    def backups() -> BackupsView:
        """The newest copy of the record, and whether one is being made."""
        return copies.view()

    @api.post("/api/backups", responses=examples.answer({**BACKUPS, "making": True}))
    def back_up() -> BackupsView:
        """Make a copy now, beside the watch. It takes from a second to some minutes; ask again what came of it."""
        copies.begin()
        return copies.view()

    return api


def _watch(conditions: Conditions) -> list[WatchPart]:
    """What holds, oldest first; then what could and does not, each once."""
    standing = [WatchPart(each.code, each.words, each.since_utc_ms) for each in conditions.views()]
    codes = {each.code for each in standing}
    well: dict[str, WatchPart] = {}
    for each in declared.ALL:
        if each.code not in codes:
            well.setdefault(each.code, WatchPart(each.code, each.words, None))
    return [*standing, *well.values()]
