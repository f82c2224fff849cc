"""What each person's firings used and cost: whoever lit the kiln has the firing."""

from collections.abc import Callable
from dataclasses import dataclass

from spyhole.core.report.energy import Energy
from spyhole.services.archive import Records

DAY_MS = 86_400_000
MOST_FIRINGS = 200
"""So many are added up at most; a quarter of a very busy kiln."""


@dataclass(frozen=True, slots=True)
class UseLine:
    """One person. who: empty where nobody is written down. money: null without a tariff."""

    who: str
    firings: int
    kwh: float
    money: float | None


@dataclass(frozen=True, slots=True)
class UseView:
    """As each report has it: by switch settings and ratings, but for measured_share of it, by measured currents.

    from_utc_ms: of the first firing that is in it.
    """

    days: int
    from_utc_ms: int | None
    firings: int
    currency: str
    people: list[UseLine]
    measured_share: float


class Use:
    """energy: of one firing. What has ended is worked out once. utc_ms: of the kiln's clock."""

    def __init__(self, records: Records, kiln: str, energy: Callable[[int], Energy], utc_ms: Callable[[], int]) -> None:
        self._records = records
        self._kiln = kiln
        self._energy = energy
        self._utc_ms = utc_ms
        self._known: dict[int, Energy] = {}

    def view(self, days: int) -> UseView:
        """Of the firings lit in so many days, whoever used most first."""
        since = self._utc_ms() - days * DAY_MS
        lines = [one for one in self._records.firings(self._kiln, MOST_FIRINGS) if one.started_utc_ms >= since]
        sums: dict[str, UseLine] = {}
        currency, measured = "", 0.0
        for line in lines:
            energy = self._known.get(line.id) or self._energy(line.id)
            if line.ended_utc_ms is not None:
                self._known[line.id] = energy
            currency = energy.currency or currency
            measured += energy.measured_share * energy.kwh
            before = sums.get(energy.lit_by, UseLine(energy.lit_by, 0, 0.0, None))
            money = before.money if energy.money is None else (before.money or 0.0) + energy.money
            sums[energy.lit_by] = UseLine(energy.lit_by, before.firings + 1, before.kwh + energy.kwh, money)
        people = sorted(sums.values(), key=lambda one: -one.kwh)
        first = min((line.started_utc_ms for line in lines), default=None)
        whole = sum(one.kwh for one in people)
        return UseView(days, first, len(lines), currency, people, measured / whole if whole else 0.0)
