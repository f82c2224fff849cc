"""One trouble, one episode, one message."""

from spyhole.core.alarms.book import AlarmBook, Judgement, acknowledge_episode, judge, reset_episode
from spyhole.core.outcome import Action, AlarmOutcome, Priority

MINUTE = 60_000


class Kiln:
    """A book that is judged each ten seconds."""

    def __init__(self) -> None:
        self.book = AlarmBook()
        self.now_ms = 0
        self.said: list[AlarmOutcome] = []

    def hold(self, minutes: float, *found: Judgement, candling: bool = False) -> None:
        for _ in range(round(minutes * 6)):
            self.now_ms += 10_000
            self.book, outcomes = judge(self.book, found, candling, self.now_ms, self.now_ms)
            self.said += outcomes

    @property
    def raised(self) -> list[tuple[str, str, bool]]:
        return [(o.episode, o.tag, o.tell) for o in self.said if o.action is Action.RAISE]


def on(tag: str, ring: str | None = None) -> Judgement:
    return Judgement(tag, ring, True)


def off(tag: str, ring: str | None = None) -> Judgement:
    return Judgement(tag, ring, False)


def test_consequences_join_the_episode_without_a_second_message() -> None:
    kiln = Kiln()
    kiln.hold(5, on("shutoff-overdue"))
    kiln.hold(5, on("shutoff-overdue"), on("guard-cone"), on("ceiling-passed"))
    assert kiln.raised == [
        ("a1", "shutoff-overdue", True),
        ("a1", "guard-cone", False),
        ("a1", "ceiling-passed", False),
    ]


def test_a_worse_level_tells_again_in_the_same_episode() -> None:
    kiln = Kiln()
    kiln.hold(2, on("probe-open", "middle"))
    kiln.hold(2, on("probe-open", "middle"), on("blind"))
    assert kiln.raised == [("a1", "probe-open", True), ("a1", "blind", True)]


def test_two_probes_that_fail_apart_are_two_troubles_and_together_are_one() -> None:
    apart = Kiln()
    apart.hold(5, on("probe-open", "middle"))
    apart.hold(5, on("probe-open", "middle"), on("probe-open", "top"))
    assert [e for e, _, _ in apart.raised] == ["a1", "a2"]
    together = Kiln()
    together.hold(5, on("chip-silent", "bottom"), on("chip-silent", "middle"), on("chip-silent", "top"))
    assert [(e, tell) for e, _, tell in together.raised] == [("a1", True), ("a1", False), ("a1", False)]


def test_a_trouble_long_over_does_not_swallow_a_new_one_though_nobody_acknowledged_it() -> None:
    kiln = Kiln()
    kiln.hold(8, on("runaway"))
    kiln.hold(300, off("runaway"))
    kiln.hold(5, off("runaway"), on("shutoff-overdue"))
    assert kiln.raised == [("a1", "runaway", True), ("a2", "shutoff-overdue", True)]


def test_one_that_comes_back_soon_is_the_same_and_hours_later_is_told() -> None:
    kiln = Kiln()
    kiln.hold(8, on("runaway"))
    kiln.hold(15, off("runaway"))
    kiln.hold(8, on("runaway"))
    kiln.hold(300, off("runaway"))
    kiln.hold(8, on("runaway"))
    assert kiln.raised == [("a1", "runaway", True), ("a1", "runaway", False), ("a1", "runaway", True)]


def test_while_candling_a_lost_heat_waits_for_the_morning_as_medium() -> None:
    kiln = Kiln()
    kiln.hold(1, on("heat-lost"), candling=True)
    assert kiln.said[0].priority is Priority.MEDIUM


def test_acknowledging_covers_the_episode_and_reset_ends_what_latched() -> None:
    kiln = Kiln()
    kiln.hold(5, on("kiln-limit"), on("ceiling-passed"))
    kiln.book = acknowledge_episode(kiln.book, "a1", "Wren", kiln.now_ms)
    assert all(a.acknowledged and a.acknowledged_by == "Wren" for a in kiln.book.alarms)
    kiln.hold(5, off("kiln-limit"), off("ceiling-passed"))
    assert [a.tag for a in kiln.book.of("a1")] == ["kiln-limit"]
    kiln.book = reset_episode(kiln.book, "a1")
    assert kiln.book.alarms == ()
