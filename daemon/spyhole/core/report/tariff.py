"""What electricity costs, by the clock on the wall."""

from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

DAY_MINUTES = 1440
EVERY_DAY = (0, 1, 2, 3, 4, 5, 6)


@dataclass(frozen=True, slots=True)
class Hours:
    """A part of the day with its own price. Minutes of the local day; past midnight where to is not after from.

    days: 0 is Monday; of a part that runs past midnight, the day it begins.
    """

    from_minute: int
    to_minute: int
    per_kwh: float
    days: tuple[int, ...] = EVERY_DAY

    def holds(self, weekday: int, minute: int) -> bool:
        """Whether this minute of this local day is in it."""
        if self.from_minute < self.to_minute:
            return weekday in self.days and self.from_minute <= minute < self.to_minute
        if minute >= self.from_minute:
            return weekday in self.days
        return minute < self.to_minute and (weekday - 1) % 7 in self.days


@dataclass(frozen=True, slots=True)
class Tariff:
    """Prices [currency per kWh]: per_kwh at any hour that no part of the day claims; the first part that holds counts.

    >>> night = Tariff("EUR", 0.34, (Hours(23 * 60, 8 * 60, 0.18),))
    >>> night.price(datetime(2031, 10, 31, 2, 0)), night.price(datetime(2031, 10, 31, 8, 0))
    (0.18, 0.34)
    """

    currency: str
    per_kwh: float
    hours: tuple[Hours, ...] = ()

    def price(self, local: datetime) -> float:
        """The price at this local time."""
        minute = local.hour * 60 + local.minute
        for part in self.hours:
            if part.holds(local.weekday(), minute):
                return part.per_kwh
        return self.per_kwh

    def pieces(self, from_utc_ms: int, to_utc_ms: int, zone: tzinfo) -> list[tuple[float, int]]:
        """(price, milliseconds) of a stretch of time, cut where the price changes: at whole minutes, by this zone."""
        cut: list[tuple[float, int]] = []
        at = from_utc_ms
        while at < to_utc_ms:
            until = min(to_utc_ms, (at // 60_000 + 1) * 60_000) if self.hours else to_utc_ms
            price = self.price(datetime.fromtimestamp(at / 1000, zone))
            if cut and cut[-1][0] == price:
                cut[-1] = price, cut[-1][1] + until - at
            else:
                cut.append((price, until - at))
            at = until
        return cut


def minutes_of_day(text: str) -> int:
    """Minutes since midnight of `23:00`; ValueError for what is no time of day.

    >>> minutes_of_day("23:30"), minutes_of_day("24:00")
    (1410, 1440)
    """
    if text == "24:00":
        return DAY_MINUTES
    moment = datetime.strptime(text, "%H:%M")  # noqa: DTZ007  (a time of day, of no day)
    return timedelta(hours=moment.hour, minutes=moment.minute) // timedelta(minutes=1)
