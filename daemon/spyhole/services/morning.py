"""The report of a firing, sent the morning after to whoever wants it.

The pages are set once, before the message is told, and kept for the couriers in memory: an alarm never waits behind a
page that is being drawn. After a restart a message that is left over goes without them; the words say where they are.
"""

from collections.abc import Callable
from datetime import datetime, timedelta

from spyhole.core.ports import Enclosure
from spyhole.core.refusal import Refusal
from spyhole.core.report import sentences
from spyhole.core.report.report import Report
from spyhole.core.words import Manner
from spyhole.services.archive import Archive, Message
from spyhole.services.desk import FiringSummary
from spyhole.services.outbox import KEYS_AT_MOST
from spyhole.services.people import People
from spyhole.services.reporting import Form, Reporter, Sheet
from spyhole.services.telling import Telling, keep_and_tell

MORNING_HOUR = 7
OLD_MS = 3 * 86_400_000
"""A report of a firing that ended longer ago is no news."""
MOST_QUESTIONS = 3
NIGHT_SHIFT_MS = 4 * 3_600_000
"""Between the end of heating and the morning there is at least so much: else the next morning is early enough."""


class Morning:
    """people: those of now. page: where the page is, "" where nobody can tell. utc_ms: of the kiln's clock."""

    def __init__(
        self,
        kiln: str,
        people: Callable[[], People],
        telling: Telling,
        archive: Archive,
        reporter: Reporter,
        manner: Manner,
        utc_ms: Callable[[], int],
        page: str = "",
    ) -> None:
        self._kiln = kiln
        self._people = people
        self._telling = telling
        self._archive = archive
        self._reporter = reporter
        self._manner = manner
        self._utc_ms = utc_ms
        self._page = page
        self._sheets: dict[str, Sheet] = {}
        telling.enclose(self.enclosed)

    def look(self) -> int:
        """Called now and then: tell what is due of the newest firing; returns how many were told."""
        newest = self._archive.firings(self._kiln, 1)
        now = self._utc_ms()
        if not newest or not due(newest[0], now, self._manner):
            return 0
        line, zone = newest[0], self._manner.zone
        told = set(self._archive.told_keys(KEYS_AT_MOST))
        wanted = {
            key: to
            for person, to in self._people().awake(now, zone)
            if person.report and (key := f"{self._topic(line.id)}/{to}/0") not in told
        }
        if not wanted:
            return 0
        report = self._reporter.work_out(line.id)
        self._set(line.id)
        title = f"{self._kiln}: report of {line.plan}"
        text = words(report, self._manner, self._page)
        messages = [Message(key, to, title, text, False, now) for key, to in wanted.items()]
        keep_and_tell(self._archive, self._telling, messages)
        return len(messages)

    def enclosed(self, message: Message) -> Enclosure | None:
        """What goes with a message: the pages, where it is of a report and they are set."""
        topic = message.key.removesuffix(f"/{message.recipient}/0")
        sheet = self._sheets.get(topic)
        return None if sheet is None else Enclosure(sheet.name, "application/pdf", sheet.content)

    def _topic(self, firing: int) -> str:
        return f"{self._kiln}/report-{firing}"

    def _set(self, firing: int) -> None:
        """Only the newest is kept. Where it cannot be drawn, the words go alone."""
        if self._topic(firing) in self._sheets:
            return
        self._sheets.clear()
        try:
            self._sheets[self._topic(firing)] = self._reporter.report(firing, Form.PDF)
        except Refusal:
            return


def due(line: FiringSummary, now_utc_ms: int, manner: Manner) -> bool:
    """Whether the morning after this firing has come, and is not long past."""
    ended = line.tripped_utc_ms or line.ended_utc_ms
    if ended is None or line.ended_utc_ms is None:
        return False
    after = datetime.fromtimestamp((ended + NIGHT_SHIFT_MS) / 1000, manner.zone)
    morning = after.replace(hour=MORNING_HOUR, minute=0, second=0, microsecond=0)
    if morning <= after:
        morning += timedelta(days=1)
    return morning.timestamp() * 1000 <= now_utc_ms < ended + OLD_MS


def words(report: Report, manner: Manner, page: str) -> str:
    """The text: what happened, what it took, what the keeper is asked."""
    said = [sentences.headline(report, manner)]
    energy = report.energy
    cost = "" if energy.money is None else f", {sentences.money(energy.money, energy.currency)}"
    said.append(f"Heating took {sentences.hours_words(report.heating_hours)} and {energy.kwh:.1f} kWh{cost}.")
    asked = [sentences.question(each, manner) for each in report.questions[:MOST_QUESTIONS]]
    if asked:
        said.append("Asked of you: " + " ".join(asked))
    said.append(f"All of it: {page}/book#firing-{report.story.id}" if page else "All of it is in the kiln book.")
    return "\n".join(said)
