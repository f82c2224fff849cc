"""A report's facts as a keeper would say them, in the studio's zone and unit."""

from datetime import datetime

from spyhole.core import words
from spyhole.core.outcome import Action, AlarmOutcome, PromptOutcome
from spyhole.core.report.differences import Difference
from spyhole.core.report.heatwork import Work
from spyhole.core.report.questions import Question, listed
from spyhole.core.report.report import Report
from spyhole.core.report.story import Happening
from spyhole.core.words import Manner

CAUTION = (
    "spyhole is an aid and no safety device. Before reaching in: isolate at the wall; shards and glaze runs cut. "
    "The cone in the shut-off is spent: set a new one before the next firing."
)

_HOW = {
    "tripped": "the shut-off dropped",
    "seen": "by the curve the heating stopped",
    "by hand": "switched off by hand",
    "curve": "by the curve the heating stopped",
}


def day(utc_ms: int | None, manner: Manner) -> str:
    """`Friday 31 October 2031`."""
    if utc_ms is None:
        return "an unknown day"
    moment = datetime.fromtimestamp(utc_ms / 1000, manner.zone)
    return f"{moment:%A} {moment.day} {moment:%B %Y}"


def short_day(utc_ms: int, manner: Manner) -> str:
    """`Fri 31 Oct`."""
    moment = datetime.fromtimestamp(utc_ms / 1000, manner.zone)
    return f"{moment:%a} {moment.day} {moment:%b}"


def hours_words(hours: float | None) -> str:
    """`3 h 25`; `not known` for None.

    >>> hours_words(3.42), hours_words(0.5), hours_words(9.999)
    ('3 h 25', '30 min', '10 h 00')
    """
    if hours is None:
        return "not known"
    minutes = round(hours * 60)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d}"


def degrees(celsius: float | None, manner: Manner) -> str:
    """Whole degrees without a unit; `-` for None."""
    if celsius is None:
        return "-"
    return str(round(celsius * 1.8 + 32 if manner.unit == "degF" else celsius))


def climb(celsius_per_hour: float | None, manner: Manner) -> str:
    """A climb in the unit's degrees per hour; `-` for None."""
    return "-" if celsius_per_hour is None else manner.difference(celsius_per_hour)


def money(amount: float | None, currency: str) -> str:
    """`EUR 21.40`; `no tariff set` for None."""
    return "no tariff set" if amount is None else f"{currency} {amount:.2f}"


def headline(report: Report, manner: Manner) -> str:
    """The sentence a keeper would say first."""
    story, end = report.story, report.ending
    work = report.rings[report.reference].work
    cone = f"cone {story.plan.cone}"
    if end is None:
        return f"This firing is under way: what stands here is as far as it has come. It is for {cone}."
    at = f"{_HOW[end.how][0].upper()}{_HOW[end.how][1:]} at {manner.clock(end.utc_ms)}"
    where = f", peak {manner.heat(report.peak_celsius)}" if report.peak_celsius is not None else ""
    if work is None:
        return f"{at}{where}. Where {cone} stood cannot be told: no reading that can be believed."
    stood = f"{cone[0].upper()}{cone[1:]} {words.stands(work.alpha)} at the {report.rings[report.reference].name} ring"
    by = "by heat work" if work.offset is None else "by heat work and the cones seen"
    sure = f" (between {words.stands(work.low)} and {words.stands(work.high)})" if _unsure(work) else ""
    return f"{at}{where}. {stood}, {by}{sure}."


def _unsure(work: Work) -> bool:
    return words.stands(work.low) != words.stands(work.high)


def ring_work(work: Work | None, probe: bool) -> str:
    """How far a ring came, as cones."""
    if not probe:
        return "no probe here: not known"
    if work is None:
        return "probe not believed when it was hottest"
    down = f"{work.down} down" if work.down is not None else "no cone down yet"
    if work.following is None or work.following_bend is None:
        return f"{down}, beyond the hardest cone there is"
    bend = work.following_bend
    return f"{down}, {work.following} {words.stands(work.following_alpha or 0.0)} ({bend:.0f}°)"


def ended(how: str | float | None) -> str:
    """How the heating ended."""
    return _HOW[how] if isinstance(how, str) else "not known"


def difference(one: Difference, manner: Manner) -> tuple[str, str, str, str]:
    """What, last time, this time, and the change."""

    def said(value: float | str | None) -> str:
        if value is None:
            return "-"
        if isinstance(value, str):
            return ended(value)
        match one.what:
            case "stage" | "heating":
                return hours_words(value)
            case "peak":
                return degrees(value, manner)
            case "work":
                return f"{value:.2f}"
            case _:
                return f"{value:.1f}"

    names = {
        "stage": f"{one.subject.capitalize()} lasted",
        "heating": "Heating, in all",
        "peak": f"Peak [{manner.unit.replace('deg', '°')}]",
        "work": "Heat work (1 is cone down)",
        "energy": "Energy [kWh]",
        "end": "Ended because",
    }
    change = ""
    if isinstance(one.before, float) and isinstance(one.now, float):
        apart = one.now - one.before
        sign = "+" if apart >= 0 else "-"
        match one.what:
            case "stage" | "heating":
                change = f"{sign}{hours_words(abs(apart))}"
            case "peak":
                change = f"{sign}{manner.difference(apart)}"
            case "work":
                change = f"{sign}{abs(apart):.2f}"
            case _:
                change = f"{sign}{abs(apart):.1f}"
    return names[one.what], said(one.before), said(one.now), change


def question(one: Question, manner: Manner) -> str:
    """One question to the keeper."""
    at = manner.clock(one.utc_ms)
    match one.tag:
        case "witness":
            return f"What do the witness cones at {one.subject} show? None is entered there."
        case "ended-how":
            return f"The heating stopped about {at} and nobody wrote down why: shut-off, timer, or a hand?"
        case "switched-off":
            return f"Were all switches turned off after {at}? It is not written down."
        case "cone-doubted":
            name, _, bend = one.subject.partition(":")
            return f"Cone {name} was written down as {bend} at {at}, which heat work cannot bear out. Was it so?"
        case "probe":
            return f"The {one.subject} probe gave cause for doubt at {at}. Has somebody looked at it?"
        case "turn":
            return f"{one.subject[:1].upper()}{one.subject[1:]}: taken from plan and curve, about {at}. Was it then?"
        case _:
            return "Who lit it? Nobody is written down, so the cost is nobody's yet."


def unknown(report: Report) -> tuple[str, ...]:
    """What this report cannot know, and why."""
    said: list[str] = []
    story = report.story
    blind = [ring.name for ring in report.rings if not ring.probe]
    if blind:
        said.append(
            f"No probe on {listed(blind)}: peak and heat work there are not known, "
            "and evenness is only between rings that have one."
        )
    dumb = [ring.name for ring in report.rings if ring.probe and ring.peak_celsius is None]
    if dumb:
        said.append(
            f"Nothing to be believed from the probe at {listed(dumb)} when it was hottest: peak, times and heat work "
            "there are not known."
        )
    gaps = [ring.name for ring in report.rings if ring.work is not None and ring.work.bridged]
    if gaps:
        said.append(f"Part of the heat work of {listed(gaps)} lies over a gap in the readings, taken as straight.")
    believed = report.energy.believed_share
    if believed > 0.995:
        said.append("No switch was written down: energy and cost follow the plan's switches, as the watch believed.")
    elif believed > 0.005:
        said.append(f"{100 * believed:.0f} % of the energy is by switch settings nobody wrote down.")
    said.append(_energy(report.energy.measured_share))
    if story.plan.ware.value != "empty" and all(ring.work is None or ring.work.offset is None for ring in report.rings):
        said.append("No cone was seen beside a probe: heat work rests on the probes alone, and the ware may differ.")
    return tuple(said)


def _energy(measured: float) -> str:
    """How energy was come by. measured: share of it by measured currents."""
    if measured > 0.995:
        return (
            "Energy is measured current times the kiln's own volts times time. Nothing here measures the volts: 5 % "
            "low would make it 5 % less."
        )
    by_switch = "switch setting times rated watts times time. Mains 5 % low would make it about 10 % less"
    if measured > 0.005:
        return f"{100 * measured:.0f} % of the energy is by measured current; the rest is {by_switch}."
    return f"Energy is {by_switch}; nothing here measures the current."


def happening(one: Happening, manner: Manner) -> str:
    """A line of what happened."""
    if isinstance(one.what, AlarmOutcome) and one.what.action is Action.CLEAR:
        return words.sentence(one.what, manner)
    return words.mark(one.what, manner)


def kind(one: Happening) -> str:
    """`entry`, `alarm` or `prompt`."""
    if isinstance(one.what, AlarmOutcome):
        return "alarm"
    return "prompt" if isinstance(one.what, PromptOutcome) else "entry"
