"""What the settings say of the price of electricity."""

from spyhole.core.forms.toml_fields import Fields, shown
from spyhole.core.report.tariff import EVERY_DAY, Hours, Tariff, minutes_of_day

KEYS = ("currency", "per_kwh", "hours")
HOURS_KEYS = ("from", "to", "per_kwh", "days")
MOST_PARTS = 24
DEAREST = 1e6
WEEK = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def read_cost(fields: Fields) -> Tariff | None:
    """From the settings file; None where nothing is said of it. Refusal."""
    if not fields.has("cost"):
        return None
    table = fields.table("cost", KEYS)
    return Tariff(
        currency=table.text("currency", "EUR"),
        per_kwh=table.number("per_kwh", 0.0, DEAREST, "a kWh"),
        hours=tuple(_hours(part) for part in table.tables("hours", HOURS_KEYS, MOST_PARTS)),
    )


def _hours(part: Fields) -> Hours:
    begins, ends = _minutes(part, "from"), _minutes(part, "to")
    if begins == ends:
        raise part.refuse("to", "the part of the day ends where it begins", "leave the part out, or change one")
    return Hours(begins % 1440, ends, part.number("per_kwh", 0.0, DEAREST, "a kWh"), _days(part))


def _minutes(part: Fields, key: str) -> int:
    text = part.text(key, "23:00")
    try:
        return minutes_of_day(text)
    except ValueError:
        raise part.refuse(key, f"{shown(text)} is no time of day", "for example 23:00") from None


def _days(part: Fields) -> tuple[int, ...]:
    if not part.has("days"):
        return EVERY_DAY
    allowed = f"it is a list of {', '.join(WEEK)}"
    value = part.raw("days", allowed)
    if not isinstance(value, list) or not value or any(day not in WEEK for day in value):
        raise part.refuse("days", f"{shown(value)} names no days", allowed)
    return tuple(sorted({WEEK.index(day) for day in value}))
