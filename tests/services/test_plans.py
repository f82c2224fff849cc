"""Plans that are kept, and a firing begun by one: what is written, and what is refused."""

from collections.abc import Iterable
from dataclasses import replace

import pytest

from spyhole.core import watch
from spyhole.core.entry import Entry
from spyhole.core.forms.plan_toml import plan_table, plan_to_toml
from spyhole.core.journal import Clock, PlanEdit, Row, Settings, Told
from spyhole.core.plan import Ware
from spyhole.core.preparation import Preparation
from spyhole.core.reading import ProbeReading, Reading
from spyhole.core.refusal import Refusal
from spyhole.services.desk import Done
from spyhole.services.plans import ChangedMeanwhile, NotThere, Plans, Start
from spyhole_hardware.emulated.puffin import BISQUE_05, GLAZE_05, KILN

KEY = "bisque-cone-05-overnight"


class Journal:
    """What writes rows down, in memory; minutes pass only where a test lets them."""

    def __init__(self) -> None:
        self.state = watch.begin()
        self.rows: list[Told] = []
        self.ms = 0
        self.write_down(Clock(1_951_155_600_000, True), Settings(KILN, BISQUE_05))

    def write_down(self, *told: Told) -> Done:
        for one in told:
            self.ms += 10
            self.rows.append(one)
            self.state, _ = watch.step(self.state, Row("Puffin", len(self.rows), "boot", self.ms, one))
        return Done(len(self.rows), True)

    def heat(self, minutes: int, celsius: float, per_minute: float) -> None:
        for tick in range(minutes * 6):
            self.ms += 10_000
            now = ProbeReading(round(celsius + per_minute * tick / 6, 1))
            self.write_down(Reading((now, now, now)))

    def since(self, count: int) -> Iterable[Told]:
        return self.rows[count:]


@pytest.fixture
def journal() -> Journal:
    return Journal()


@pytest.fixture
def plans(journal: Journal) -> Plans:
    return Plans(journal, KILN)


def test_the_plan_of_the_settings_is_kept_and_can_be_copied_and_changed(plans: Plans) -> None:
    (first,) = plans.all()
    assert first.key == KEY
    copy = plans.copy(KEY, "Mina")
    assert (copy.key, copy.name) == (f"{KEY}-copy", f"{BISQUE_05.name}, copy")
    changed = plans.change(copy.key, copy.version, {**copy.table, "name": "Slow bisque"}, "Mina")
    assert (changed.key, changed.name) == (copy.key, "Slow bisque")
    assert [one.name for one in plans.all()] == [BISQUE_05.name, "Slow bisque"]


def test_two_people_do_not_write_over_each_other(plans: Plans) -> None:
    (mine,) = plans.all()
    plans.change(KEY, mine.version, {**mine.table, "timer_margin_minutes": 45}, "Ruth")
    with pytest.raises(ChangedMeanwhile):
        plans.change(KEY, mine.version, {**mine.table, "timer_margin_minutes": 60}, "Mina")
    with pytest.raises(ChangedMeanwhile):
        plans.remove(KEY, mine.version, "Mina")
    assert plans.one(KEY).table["timer_margin_minutes"] == 45


def test_a_plan_goes_out_and_in_as_its_file(plans: Plans) -> None:
    text = plan_to_toml(replace(GLAZE_05, name="From a friend"), KILN)
    kept = plans.create_from_toml(text, "Mina")
    assert plans.toml(kept.key) == text


def test_the_last_plan_stays_and_names_are_their_own(plans: Plans) -> None:
    (only,) = plans.all()
    with pytest.raises(Refusal, match="the only plan"):
        plans.remove(KEY, only.version, "Mina")
    with pytest.raises(Refusal, match="a name of its own"):
        plans.create_from(only.table, "Mina")
    with pytest.raises(NotThere):
        plans.one("nothing")


def test_a_plan_that_cannot_be_is_not_kept(plans: Plans, journal: Journal) -> None:
    table = plan_table(BISQUE_05, KILN)
    before = len(journal.rows)
    low = {"name": "low", "switches": dict.fromkeys(("bottom", "middle", "top"), "low"), "until": "cone"}
    with pytest.raises(Refusal, match="would not reach cone 05"):
        plans.create_from({**table, "name": "Never", "stage": [low]}, "Mina")
    assert len(journal.rows) == before


def test_a_start_writes_the_plan_how_it_was_made_ready_and_the_first_hands(plans: Plans, journal: Journal) -> None:
    before = len(journal.rows)
    plans.start(Start(KEY, "Mina", damp=True, seated=True, rod_centred=True, gap_millimetres=4.8, timer_minutes=720))
    plan, seen, *entries = journal.since(before)
    assert isinstance(plan, PlanEdit)
    assert seen == Preparation(True, True, True, 4.8, "Mina")
    written = [(e.kind.value, e.subject, e.value) for e in entries if isinstance(e, Entry)]
    assert written == [
        ("start", "", "05"),
        ("switch", "bottom", "low"),
        ("plugs", "", "out"),
        ("timer", "", "720"),
    ]
    firing = journal.state.firing
    assert firing is not None
    assert firing.prepared == seen
    assert firing.timer_ends_ms is not None


def test_what_is_different_today_goes_into_the_firing_and_not_the_kept_plan(plans: Plans, journal: Journal) -> None:
    plans.start(Start(KEY, "Mina", cone="06", lowest_firing_clay_cone="05", ware="glaze"))
    firing = journal.state.firing
    assert firing is not None
    today = firing.plan
    assert (today.cone, today.shutoff_cone, today.lowest_firing_clay_cone) == ("06", "06", "05")
    assert today.ware is Ware.GLAZE
    assert plans.one(KEY).table["cone"] == "05"


def test_a_clay_that_would_melt_is_refused_and_nothing_is_lit(plans: Plans, journal: Journal) -> None:
    before = len(journal.rows)
    with pytest.raises(Refusal) as refused:
        plans.start(Start(KEY, "Mina", lowest_firing_clay_cone="010"))
    assert refused.value.where == "cone"
    assert "it would melt" in str(refused.value)
    assert len(journal.rows) == before


def test_nothing_is_begun_over_a_firing_and_the_next_is_as_last_time(plans: Plans, journal: Journal) -> None:
    plans.start(Start(KEY, "Mina", cone="06", damp=False))
    with pytest.raises(Refusal, match="a firing is under way"):
        plans.start(Start(KEY, "Mina"))
    seen = plans.beginning()
    assert seen.begun_utc_ms is not None
    assert (seen.last, seen.key, seen.plan.cone) == (True, KEY, "06")


def test_a_kiln_that_heats_unclaimed_is_claimed_from_when_that_was_seen(plans: Plans, journal: Journal) -> None:
    with pytest.raises(Refusal, match="does not heat"):
        plans.start(Start(KEY, "Mina", claim=True))
    journal.heat(60, 30.0, 2.0)
    since = plans.beginning().heats_utc_ms
    assert since is not None
    before = len(journal.rows)
    plans.start(Start(KEY, "Mina", claim=True))
    lit = [e for e in journal.since(before) if isinstance(e, Entry)]
    assert [(e.kind.value, e.happened_utc_ms) for e in lit] == [("start", since)]
    assert journal.state.firing is not None
    assert journal.state.firing.started_utc_ms == since < journal.state.line.utc_ms - 10 * 60_000
    journal.heat(13, 150.0, 2.0)
    assert plans.beginning().heats_utc_ms is None
    assert not [a for a in journal.state.alarms.alarms if a.tag == "unplanned-heat" and a.active]
