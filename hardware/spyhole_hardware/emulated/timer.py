"""The emulated kiln's backup timer: wound by hand in minutes, and it cuts all rings when it runs out."""


class BackupTimer:
    """A clockwork or synchronous timer.

    stops_in_power_cut: a synchronous one stands still without mains, and so ends late.
    """

    def __init__(self, longest_minutes: float, *, stops_in_power_cut: bool) -> None:
        self.longest_minutes = longest_minutes
        self.stops_in_power_cut = stops_in_power_cut
        self.minutes_left = 0.0

    def wind(self, minutes: float) -> None:
        """Set it to end so many minutes from now, at most as far as the dial goes."""
        self.minutes_left = min(max(minutes, 0.0), self.longest_minutes)

    def step(self, seconds: float, *, mains: bool) -> None:
        if mains or not self.stops_in_power_cut:
            self.minutes_left = max(0.0, self.minutes_left - seconds / 60)

    @property
    def closed(self) -> bool:
        """Whether it lets the rings heat."""
        return self.minutes_left > 0
