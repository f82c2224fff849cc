"""A report as a table for a spreadsheet and as JSON for a program: the same figures, in SI and UTC."""

import csv
import io
import json
from collections.abc import Iterator

from spyhole.core.moment import utc_text
from spyhole.core.report import sentences
from spyhole.core.report.report import Report
from spyhole.core.words import Manner

Cell = str | float | int | None


def csv_of(report: Report, manner: Manner) -> bytes:
    """One figure a line: table, what, ring, value, unit. Temperatures in degC, times in UTC."""
    buffer = io.StringIO()
    out = csv.writer(buffer, lineterminator="\n")
    out.writerow(("table", "what", "ring", "value", "unit"))
    for table, what, ring, value, unit in _figures(report, manner):
        shown = "" if value is None else f"{value:.4f}".rstrip("0").rstrip(".") if isinstance(value, float) else value
        out.writerow((table, _tame(what), _tame(ring), _tame(shown) if isinstance(shown, str) else shown, unit))
    return buffer.getvalue().encode()


def _tame(text: str) -> str:
    """A spreadsheet takes what begins like this for a formula; people may write anything in a note."""
    return f"'{text}" if text[:1] in ("=", "+", "@") or (text[:1] == "-" and not _number(text)) else text


def _number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _figures(report: Report, manner: Manner) -> Iterator[tuple[str, str, str, Cell, str]]:
    story = report.story
    names = [ring.name for ring in report.rings]
    yield "firing", "id", "", story.id, ""
    yield "firing", "kiln", "", story.kiln.name, ""
    yield "firing", "plan", "", story.plan.name, ""
    yield "firing", "cone", "", story.plan.cone, ""
    yield "firing", "lit", "", utc_text(story.started_utc_ms), "UTC"
    yield "firing", "lit by", "", report.energy.lit_by, ""
    yield "firing", "heating ended", "", None if report.ending is None else utc_text(report.ending.utc_ms), "UTC"
    yield "firing", "ended because", "", None if report.ending is None else sentences.ended(report.ending.how), ""
    down = None if report.down is None else report.down.utc_ms
    yield "firing", "cone down", names[report.reference], _utc(down), "UTC"
    yield "firing", "soak within 5 degC of peak", names[report.reference], report.soak_minutes, "min"
    for ring in report.rings:
        work = ring.work
        yield "ring", "peak", ring.name, ring.peak_celsius, "degC"
        yield "ring", "peak at", ring.name, _utc(ring.peak_utc_ms), "UTC"
        yield "ring", "energy", ring.name, ring.kwh, "kWh"
        yield "ring", "heat work", ring.name, None if work is None else work.alpha, "1 is down"
        yield "ring", "heat work, low at 80 %", ring.name, None if work is None else work.low, "1 is down"
        yield "ring", "heat work, high at 80 %", ring.name, None if work is None else work.high, "1 is down"
        yield "ring", "heat work, uncorrected", ring.name, None if work is None else work.raw, "1 is down"
        yield "ring", "hardest cone down", ring.name, None if work is None else work.down, "cone"
        yield "ring", "next cone", ring.name, None if work is None else work.following, "cone"
        yield "ring", "next cone bent", ring.name, None if work is None else work.following_bend, "degrees"
    for stage in report.stages:
        yield "stage", f"{stage.name}: from", "", utc_text(stage.began_utc_ms), "UTC"
        yield "stage", f"{stage.name}: took", "", stage.hours, "h"
        yield "stage", f"{stage.name}: energy", "", stage.kwh, "kWh"
        for name, celsius in zip(names, stage.end_celsius, strict=False):
            yield "stage", f"{stage.name}: ended at", name, celsius, "degC"
    for one in report.ranges:
        for name, climb in zip(names, one.rings, strict=True):
            words = "last 100 to peak" if one.last else f"{one.from_celsius:.0f} to {one.to_celsius:.0f}"
            yield "climb", words, name, climb, "degC per hour"
    for line in report.above:
        for name, hours in zip(names, line.rings, strict=True):
            words = f"within {line.celsius:.0f} of peak" if line.below_peak else f"above {line.celsius:.0f}"
            yield "time above", words, name, hours, "h"
    yield "evenness", "when the heating ended", "", report.evenness.at_end, "degC"
    yield "evenness", f"widest above {report.evenness.above_celsius:.0f}", "", report.evenness.widest, "degC"
    for band in report.cooling:
        words = f"{band.from_celsius:.0f} to {band.to_celsius:.0f} {band.name or 'plan'}"
        yield "cooling", words, names[report.reference], band.celsius_per_hour, "degC per hour"
        yield "cooling", f"{words}, fastest 10 min", names[report.reference], band.fastest, "degC per hour"
    for celsius, at in report.cooled:
        yield "cooling", f"hottest ring below {celsius:.0f}", "", _utc(at), "UTC"
    yield "energy", "all", "", report.energy.kwh, "kWh"
    yield "energy", "share by written settings", "", report.energy.logged_share, ""
    yield "energy", "share by measured current", "", report.energy.measured_share, ""
    for charge in report.energy.charges:
        yield "cost", f"at {charge.per_kwh:g} per kWh", "", charge.kwh, "kWh"
        yield "cost", f"at {charge.per_kwh:g} per kWh", "", charge.money, report.energy.currency
    yield "cost", "all", "", report.energy.money, report.energy.currency
    for difference in report.differences:
        what, before, now, change = sentences.difference(difference, manner)
        yield "different", f"{what}, then", "", before, ""
        yield "different", f"{what}, now", "", now, change
    for question in report.questions:
        yield "open", sentences.question(question, manner), "", None, ""
    for words in sentences.unknown(report):
        yield "not known", words, "", None, ""
    for happening in story.happenings:
        words = sentences.happening(happening, manner)
        yield "happened", words, "", utc_text(happening.utc_ms), sentences.kind(happening)


def _utc(utc_ms: int | None) -> str | None:
    return None if utc_ms is None else utc_text(utc_ms)


def json_of(report: Report, manner: Manner) -> bytes:
    """The same figures, nested, with the curve by the minute."""
    story, energy = report.story, report.energy
    names = [ring.name for ring in report.rings]

    def by_ring(values: tuple[float | None, ...]) -> dict[str, float | None]:
        return dict(zip(names, values, strict=False))

    whole = {
        "firing": story.id,
        "kiln": story.kiln.name,
        "plan": story.plan.name,
        "cone": story.plan.cone,
        "lit": {"utc_ms": story.started_utc_ms, "by": energy.lit_by},
        "headline": sentences.headline(report, manner),
        "heating_ended": None
        if report.ending is None
        else {"utc_ms": report.ending.utc_ms, "because": sentences.ended(report.ending.how)},
        "cone_down": None
        if report.down is None
        else {"utc_ms": report.down.utc_ms, "low_utc_ms": report.down.low, "high_utc_ms": report.down.high},
        "rings": [
            {
                "name": ring.name,
                "probe": ring.probe,
                "peak_celsius": ring.peak_celsius,
                "peak_utc_ms": ring.peak_utc_ms,
                "kwh": ring.kwh,
                "heat_work": None
                if ring.work is None
                else {
                    "alpha": ring.work.alpha,
                    "low": ring.work.low,
                    "high": ring.work.high,
                    "uncorrected": ring.work.raw,
                    "cone_down": ring.work.down,
                    "next_cone": ring.work.following,
                    "next_cone_bend_degrees": ring.work.following_bend,
                    "bridged": ring.work.bridged,
                },
            }
            for ring in report.rings
        ],
        "stages": [
            {
                "name": stage.name,
                "began_utc_ms": stage.began_utc_ms,
                "hours": stage.hours,
                "planned_hours": stage.planned_hours,
                "end_celsius": by_ring(stage.end_celsius),
                "kwh": stage.kwh,
            }
            for stage in report.stages
        ],
        "climbs_celsius_per_hour": [
            {"from_celsius": one.from_celsius, "to_celsius": one.to_celsius, "rings": by_ring(one.rings)}
            for one in report.ranges
        ],
        "hours_above": [
            {"celsius": one.celsius, "below_peak": one.below_peak, "rings": by_ring(one.rings)} for one in report.above
        ],
        "soak_minutes": report.soak_minutes,
        "evenness_celsius": {"at_end": report.evenness.at_end, "widest": report.evenness.widest},
        "cooling_celsius_per_hour": [
            {
                "name": band.name,
                "from_celsius": band.from_celsius,
                "to_celsius": band.to_celsius,
                "whole": band.celsius_per_hour,
                "fastest": band.fastest,
                "limit": band.limit,
            }
            for band in report.cooling
        ],
        "cooled": [{"celsius": celsius, "utc_ms": at} for celsius, at in report.cooled],
        "energy": {
            "kwh": energy.kwh,
            "written_share": energy.logged_share,
            "measured_share": energy.measured_share,
        },
        "cost": None
        if energy.money is None
        else {
            "currency": energy.currency,
            "money": energy.money,
            "person": energy.lit_by,
            "parts": [{"per_kwh": one.per_kwh, "kwh": one.kwh, "money": one.money} for one in energy.charges],
        },
        "compared_with": None if report.last is None else report.last.id,
        "differences": [
            {"what": one.what, "subject": one.subject, "before": one.before, "now": one.now, "matters": one.matters}
            for one in report.differences
        ],
        "questions": [sentences.question(one, manner) for one in report.questions],
        "not_known": list(sentences.unknown(report)),
        "happened": [
            {"utc_ms": one.utc_ms, "kind": sentences.kind(one), "words": sentences.happening(one, manner)}
            for one in story.happenings
        ],
        "curve": [
            {"utc_ms": p.utc_ms, "stage": p.stage, "ceiling_celsius": p.ceiling_celsius, "celsius": by_ring(p.celsius)}
            for p in story.points
        ],
    }
    return json.dumps(whole, ensure_ascii=False, indent=1).encode()
