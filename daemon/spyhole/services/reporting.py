"""Reports of firings, out of the record: found, worked out, and handed to whoever sets them on paper."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Protocol

from spyhole.core.forms.plan_toml import followed
from spyhole.core.refusal import Refusal
from spyhole.core.report.energy import Energy
from spyhole.core.report.report import Report, energy_alone, report_of
from spyhole.core.report.story import Happening, Point, Story
from spyhole.core.report.tariff import Tariff
from spyhole.core.words import Manner
from spyhole.services.archive import Firing, Records
from spyhole.services.desk import FiringSummary

HALF_A_MINUTE_MS = 30_000
LOOKED_THROUGH = 60
"""So many earlier firings are looked through for one like it."""


class Form(StrEnum):
    """What a report can be had as; the word is the ending of its file."""

    PDF = "pdf"
    PNG = "png"
    CSV = "csv"
    JSON = "json"


class Paper(StrEnum):
    """What a report is printed on."""

    A4 = "a4"
    LETTER = "letter"


Press = Callable[[Report, Form, Manner, Paper], bytes]
"""Sets a report: as a page, a picture or a table."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A report as it is handed over. name: for a file."""

    name: str
    content: bytes


class Reporting(Protocol):
    """What the page may ask. Thread-safe."""

    def report(self, firing: int | None, form: Form, paper: Paper = Paper.A4) -> Sheet:
        """The report of a firing, None for the newest; Refusal where there is none."""
        ...


class Reporter:
    """Satisfies `Reporting`, for one kiln."""

    def __init__(self, records: Records, kiln: str, manner: Manner, tariff: Tariff | None, press: Press) -> None:
        self._records = records
        self._kiln = kiln
        self._manner = manner
        self._tariff = tariff
        self._press = press

    def report(self, firing: int | None, form: Form, paper: Paper = Paper.A4) -> Sheet:
        """The report of a firing, None for the newest; Refusal where there is none."""
        made = self.work_out(firing)
        name = f"{_plain(self._kiln)}-firing-{made.story.id}.{form}"
        return Sheet(name, self._press(made, form, self._manner, paper))

    def work_out(self, firing: int | None) -> Report:
        """The figures alone."""
        found = self._found(firing)
        before = self._like(found.summary)
        earlier = None if before is None else report_of(self._story(before), self._tariff, self._manner.zone)
        return report_of(self._story(found), self._tariff, self._manner.zone, earlier)

    def energy(self, firing: int) -> Energy:
        """What a firing used and cost, alone."""
        return energy_alone(self._story(self._found(firing)), self._tariff, self._manner.zone)

    def _found(self, firing: int | None) -> Firing:
        if firing is None:
            newest = self._records.firings(self._kiln, 1)
            if not newest:
                raise Refusal("report", f"the kiln book of {self._kiln} is empty", "a report needs a firing")
            firing = newest[0].id
        found = self._records.firing(self._kiln, firing)
        if found is None:
            raise Refusal(
                "firing", f"no firing of {self._kiln} has the number {firing}", "the kiln book on the page has them"
            )
        return found

    def _like(self, summary: FiringSummary) -> Firing | None:
        """The last one before that was for the same cone by a plan of the same name."""
        for line in self._records.firings(self._kiln, LOOKED_THROUGH, summary.id):
            if line.plan == summary.plan and line.cone == summary.cone:
                return self._records.firing(self._kiln, line.id)
        return None

    def _story(self, firing: Firing) -> Story:
        line = firing.summary
        kiln, plan = followed(firing.kiln_toml, firing.plan_toml)
        points: list[Point] = []
        for minute in self._records.minutes(self._kiln, line.id):
            middle = minute.utc_ms - HALF_A_MINUTE_MS
            if points and middle <= points[-1].utc_ms:
                continue  # the clock was set back there: this minute has been
            points.append(
                Point(
                    middle,
                    minute.stage,
                    minute.ceiling_celsius,
                    tuple(None if ring is None else ring.mean_celsius for ring in minute.rings),
                    tuple(None if ring is None else ring.lowest_celsius for ring in minute.rings),
                    tuple(None if ring is None else ring.highest_celsius for ring in minute.rings),
                )
            )
        happenings = [
            Happening(mark.utc_ms, mark.sequence, mark.what)
            for mark in self._records.marks(self._kiln, line.id)
            if not mark.undone
        ]
        return Story(
            id=line.id,
            kiln=kiln,
            plan=replace(plan, cone=line.cone),
            started_utc_ms=line.started_utc_ms,
            ended_utc_ms=line.ended_utc_ms,
            tripped_utc_ms=line.tripped_utc_ms,
            points=tuple(points),
            happenings=tuple(sorted(happenings, key=lambda one: one.utc_ms)),
            drawn=tuple(self._records.drawn(self._kiln, line.id)),
        )


def _plain(name: str) -> str:
    """A name that a file may have anywhere.

    >>> _plain("Puffin & Sons")
    'puffin-sons'
    """
    return "-".join("".join(c if c.isascii() and c.isalnum() else " " for c in name.lower()).split()) or "kiln"
