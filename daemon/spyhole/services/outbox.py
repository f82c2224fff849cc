"""Makes the messages that are due, each once: what the steps of `escalation` say, in words, for every channel.

The keys of what was told are read from the record at the start; with them and the state of the watch, a restart goes
on telling where it was. Nothing here sends.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from spyhole.core import words
from spyhole.core.moment import Moment
from spyhole.core.outcome import AlarmOutcome, Priority
from spyhole.services.archive import Message
from spyhole.services.escalation import LADDERS, WAKES, Due, Instant, Ladder, Notice, Trouble, due
from spyhole.services.keeping import Keeping
from spyhole.services.people import Channel, People, Person, recipient
from spyhole.services.studio import Studio

KEYS_AT_MOST = 5000
IN_REACH = "in-reach"
QUESTIONS = frozenset({"in-reach", "turn-near"})
"""Prompts that ask for an answer."""


Link = Callable[[str, str, str, int], str]
"""Purpose (`acknowledge` or `in-reach`), episode or notice, person and utc_ms: the address that answers a message.

"" where the settings do not know the page's address.
"""


def troubles_of(keeping: Keeping) -> tuple[Trouble, ...]:
    """Episodes nobody has acknowledged, oldest first: for messages, and for what sounds in the room."""
    unanswered = {alarm.episode for alarm in keeping.state.alarms.alarms if alarm.calls}
    return tuple(
        Trouble(one.id, one.number, one.since_ms, one.outcome.tag, one.outcome.priority)
        for one in keeping.told
        if one.id in unanswered
    )


def instant_of(keeping: Keeping, moment: Moment) -> Instant:
    """This moment on the watch's axis; the watch's own last instant where the moment is of another boot."""
    line = keeping.state.line
    if moment.boot != line.boot:
        return Instant(line.now_ms, line.utc_ms)
    now_ms = max(line.now_ms, moment.monotonic_ms + line.axis_offset_ms)
    return Instant(now_ms, moment.monotonic_ms + line.utc_offset_ms)


@dataclass(frozen=True, slots=True)
class Words:
    """Title and text of one message, but for who is to answer it."""

    title: str
    text: str
    urgent: bool
    purpose: str = ""


class Outbox:
    """people: as they are now. Used under the logbook's lock."""

    def __init__(
        self,
        people: Callable[[], People],
        told: Iterable[str] = (),
        link: Link = lambda *_: "",
        ladders: Mapping[Priority, Ladder] = LADDERS,
        rule: str = "",
    ) -> None:
        """told: keys of messages that the record holds already. rule: the studio's emergency rule, in its own words."""
        self._people = people
        self._told = dict.fromkeys(told)
        self._link = link
        self._ladders = ladders
        self._rule = rule

    def draw(self, keeping: Keeping, studio: Studio, moment: Moment) -> list[Message]:
        """Messages that are due and were never told. They count as told once they are `posted`."""
        troubles = troubles_of(keeping)
        if not troubles and not keeping.said:
            return []
        instant = instant_of(keeping, moment)
        notices = tuple(
            Notice(f"p{one.sequence}", one.until_ms, one.outcome.tag in WAKES, one.from_ms, one.to_keepers)
            for one in keeping.said
        )
        found = due(
            troubles, notices, self._people(), keeping.state.duty.holder, instant, studio.manner.zone, self._ladders
        )
        return [
            message
            for one in found
            for channel in _channels(one)
            if (message := self._message(one, channel, keeping, studio, instant)) is not None
        ]

    def posted(self, messages: Iterable[Message]) -> None:
        """These were handed to the record and the couriers."""
        for message in messages:
            self._told[message.key] = None
        for key in list(self._told)[:-KEYS_AT_MOST]:
            del self._told[key]

    def _message(
        self, one: Due, channel: Channel, keeping: Keeping, studio: Studio, instant: Instant
    ) -> Message | None:
        to = recipient(one.person.name, channel.name)
        key = f"{studio.kiln.name}/{one.subject}/{to}/{one.step}"
        if key in self._told:
            return None
        said = _words(one, keeping, studio)
        away = "" if one.subject.startswith("p") else self._if_away(one.person, said, keeping.state.duty.holder)
        link = self._link(said.purpose, one.subject, one.person.name, instant.utc_ms) if said.purpose else ""
        return Message(
            key=key,
            recipient=to,
            title=f"{studio.kiln.name}: {said.title} ({one.subject}-{one.step})",
            text="\n".join(line for line in (said.text, away, link) if line),
            urgent=said.urgent,
            created_utc_ms=instant.utc_ms,
        )

    def _if_away(self, reader: Person, said: Words, holder: str) -> str:
        """What ends an alarm for somebody who may not be in the room. The rule of ten minutes is for the high ones."""
        others = self._people().others(reader.name, holder)
        if not said.urgent:
            return f"If you are away, phone {_or(others)}." if others else ""
        whom = _or(others) if others else "whoever is nearest"
        rule = f": {self._rule}" if self._rule else ", follow the studio's emergency rule."
        return f"If you are away, phone {whom}. If nobody is there in ten minutes{rule}"


def _or(names: tuple[str, ...]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


def _channels(one: Due) -> tuple[Channel, ...]:
    """All of them once it is louder; before that those that are not loud, where there are any."""
    soft = tuple(channel for channel in one.person.channels if not channel.loud)
    return one.person.channels if one.loud or not soft else soft


def _words(one: Due, keeping: Keeping, studio: Studio) -> Words:
    for notice in keeping.said:
        if one.subject == f"p{notice.sequence}":
            prompt = notice.outcome
            purpose = IN_REACH if prompt.tag in QUESTIONS else ""
            return Words(words.title(prompt), words.sentence(prompt, studio.manner), urgent=False, purpose=purpose)
    told = next(episode.outcome for episode in keeping.told if episode.id == one.subject)
    outcome = told if one.rung == 0 else _as_it_is_now(told, keeping)
    text = words.sentence(outcome, studio.manner)
    if one.rung:
        text = f"Nobody has answered for {round(one.waited_ms / 60_000)} minutes. {text}"
    return Words(words.title(outcome), text, urgent=outcome.priority is Priority.HIGH, purpose="acknowledge")


def _as_it_is_now(told: AlarmOutcome, keeping: Keeping) -> AlarmOutcome:
    for alarm in keeping.state.alarms.alarms:
        if (alarm.tag, alarm.ring) == (told.tag, told.ring) and alarm.facts:
            return replace(told, facts=alarm.facts)
    return told
