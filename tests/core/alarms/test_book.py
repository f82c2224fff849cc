"""One trouble, one episode, one message."""

from spyhole.core.alarms.book import AlarmBook, Judgement, acknowledge_episode, judge, reset_episode, serve, shelve
from spyhole.core.alarms.life import Standing
from spyhole.core.journal import OutOfService, Shelving
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


# Overlays


def shelving(kiln: Kiln, tag: str, minutes: float, ring: str | None = None) -> None:
    told = Shelving(tag, ring, minutes, "looked at it", "Mina")
    kiln.book, outcomes = shelve(kiln.book, told, kiln.now_ms, kiln.now_ms)
    kiln.said += outcomes


def service(kiln: Kiln, ring: str, *, out: bool) -> None:
    kiln.book, outcomes = serve(kiln.book, OutOfService(ring, out, "a lead", "Mina"), kiln.now_ms, kiln.now_ms)
    kiln.said += outcomes


def test_a_shelf_ends_by_itself_and_what_still_holds_is_told_again() -> None:
    kiln = Kiln()
    kiln.hold(15, on("stall"))
    shelving(kiln, "stall", 30)
    kiln.hold(29, on("stall"))
    assert [tell for _, _, tell in kiln.raised] == [True]
    kiln.hold(2, on("stall"))
    assert kiln.raised == [("a1", "stall", True), ("a1", "stall", True)]
    assert kiln.book.alarms[0].standing is Standing.UNACKNOWLEDGED


def test_a_shelf_that_ends_when_it_is_over_says_nothing() -> None:
    kiln = Kiln()
    kiln.hold(15, on("stall"))
    shelving(kiln, "stall", 30)
    kiln.hold(40, off("stall"))
    assert [tell for _, _, tell in kiln.raised] == [True]
    assert kiln.book.alarms == ()


def test_what_happens_on_the_shelf_is_in_the_record_and_not_told() -> None:
    kiln = Kiln()
    kiln.hold(15, on("stall"))
    kiln.book = acknowledge_episode(kiln.book, "a1", "Wren", kiln.now_ms)
    shelving(kiln, "stall", 60)
    kiln.hold(15, off("stall"))
    kiln.hold(15, on("stall"))
    quiet = kiln.said[1:]
    assert [(o.action, o.tell, dict(o.facts)["overlay"]) for o in quiet] == [
        (Action.CLEAR, False, "shelved"),
        (Action.RAISE, False, "shelved"),
    ]


def test_no_shelf_is_longer_than_an_hour_and_a_high_one_than_a_quarter() -> None:
    for tag, minutes in (("stall", 60), ("heat-lost", 15)):
        kiln = Kiln()
        kiln.hold(15, on(tag))
        shelving(kiln, tag, 600)
        kiln.hold(minutes - 1, on(tag))
        assert len(kiln.raised) == 1
        kiln.hold(2, on(tag))
        assert [tell for _, _, tell in kiln.raised] == [True, True]


def test_a_consequence_is_told_though_its_cause_is_put_aside() -> None:
    kiln = Kiln()
    kiln.hold(15, on("ring-behind", "top"))
    shelving(kiln, "ring-behind", 60, "top")
    kiln.hold(15, on("ring-behind", "top"), on("stall"))
    assert [(tag, tell) for _, tag, tell in kiln.raised] == [("ring-behind", True), ("stall", True)]


def test_a_probe_out_of_service_is_not_heard_and_back_it_is_judged_at_once() -> None:
    kiln = Kiln()
    service(kiln, "top", out=True)
    kiln.hold(5, on("probe-open", "top"), on("probe-open", "middle"))
    assert [(o.ring, o.tell) for o in kiln.said] == [("top", False), ("middle", True)]
    assert kiln.book.out_rings == {"top"}
    service(kiln, "top", out=False)
    assert [(o.ring, o.tell) for o in kiln.said[2:]] == [("top", True)]


def test_a_rule_that_does_not_apply_leaves_no_line_and_is_judged_when_it_does() -> None:
    kiln = Kiln()
    for _ in range(90):
        kiln.now_ms += 10_000
        kiln.book, said = judge(kiln.book, (on("stall"),), False, kiln.now_ms, kiln.now_ms, frozenset({"stall"}))
        assert said == ()
    kiln.hold(0.2, on("stall"))
    assert kiln.raised == [("a1", "stall", True)]


def test_one_that_gets_worse_is_told_again_though_somebody_saw_it() -> None:
    """Lost heat while candling waits for the morning; once candling is over it is high."""
    kiln = Kiln()
    kiln.hold(1, on("heat-lost"), candling=True)
    kiln.book = acknowledge_episode(kiln.book, "a1", "Wren", kiln.now_ms)
    kiln.hold(1, on("heat-lost"))
    assert [(o.priority, o.tell) for o in kiln.said] == [(Priority.MEDIUM, True), (Priority.HIGH, True)]
    assert kiln.book.alarms[0].standing is Standing.UNACKNOWLEDGED


def test_numbers_of_episodes_never_come_twice() -> None:
    kiln = Kiln()
    for _ in range(5):
        kiln.hold(8, on("runaway"))
        kiln.book = acknowledge_episode(kiln.book, kiln.raised[-1][0], "Wren", kiln.now_ms)
        kiln.hold(60, off("runaway"))
    assert [episode for episode, _, _ in kiln.raised] == ["a1", "a2", "a3", "a4", "a5"]


def test_while_it_clears_an_alarm_says_what_was_seen_last_and_not_what_does_not_hold() -> None:
    kiln = Kiln()
    kiln.hold(1, Judgement("heat-lost", None, True, (("since_utc_ms", 60_000),)))
    kiln.hold(2, Judgement("heat-lost", None, False, (("since_utc_ms", None),)))
    (alarm,) = kiln.book.alarms
    assert alarm.active
    assert alarm.facts == (("since_utc_ms", 60_000),)
