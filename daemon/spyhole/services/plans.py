"""The plans that are kept, and how a firing begins by one of them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Protocol

from spyhole.core.cones.kinetics import cone_names
from spyhole.core.entering import lessons
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.forms.entries_csv import check_entry
from spyhole.core.forms.plan_toml import plan_from_table, plan_from_toml, plan_table, plan_to_toml
from spyhole.core.journal import PlanEdit, PlanKept, Told
from spyhole.core.kiln import Kiln, Switch
from spyhole.core.plan import Plan
from spyhole.core.plans import MOST_PLANS, KeptPlan, copy_name, key_of
from spyhole.core.plans_course import Course, Expected, Lighting, expect, light_by, teacher_of, timer_minutes
from spyhole.core.plans_doubts import Doubt, doubts, refuse_impossible
from spyhole.core.preparation import Preparation
from spyhole.core.refusal import Refusal
from spyhole.core.state import State
from spyhole.services.desk import Done

Table = Mapping[str, object]
MOST_GAP_MILLIMETRES = 20.0


class NotThere(Exception):
    """No plan is kept under this key."""


class ChangedMeanwhile(Exception):
    """Somebody else has written this plan since it was read."""


class Keeper(Protocol):
    """What holds the watch, as far as plans need it (`services.watchkeeper.Watchkeeper`)."""

    @property
    def state(self) -> State:
        """As of the last row."""
        ...

    def write_down(self, *told: Told) -> Done:
        """Take rows into the journal, all or none. Refusal while the record is still being read."""
        ...


@dataclass(frozen=True, slots=True)
class PlanView:
    """A plan that is kept. table: in the form of its file. version: what a change of it has to name."""

    key: str
    version: int
    name: str
    table: dict[str, object]


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a plan should do. expected: three courses. doubts: what to think about; lighting: where a time was given."""

    plan: Plan
    expected: Expected
    doubts: tuple[Doubt, ...]
    timer_minutes: int | None
    lighting: Lighting | None


@dataclass(frozen=True, slots=True)
class Beginning:
    """What somebody who starts a firing is offered.

    begun_utc_ms: of the firing under way, None for none; heats_utc_ms: since when the kiln heats without one.
    plan: as last time, or as the settings say. prepared: last time. care: what has to be seen to at this kiln first.
    """

    kiln: Kiln
    begun_utc_ms: int | None
    heats_utc_ms: int | None
    now_utc_ms: int
    last: bool
    key: str
    plan: Plan
    prepared: Preparation | None
    cones: tuple[str, ...]
    care: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Start:
    """key: of the plan. None: as in the plan. timer_minutes: what the backup timer is wound to, None for not yet.

    claim: the kiln heats already, and the firing began when that was first seen.
    """

    key: str
    who: str
    cone: str | None = None
    shutoff_cone: str | None = None
    lowest_firing_clay_cone: str | None = None
    ware: str | None = None
    damp: bool | None = None
    seated: bool | None = None
    rod_centred: bool | None = None
    gap_millimetres: float | None = None
    timer_minutes: float | None = None
    claim: bool = False


class Plans:
    """Thread-safe: it reads a frozen state, and writes through the keeper. care: sentences of what the years left."""

    def __init__(self, keeper: Keeper, kiln: Kiln, care: Callable[[], tuple[str, ...]] = tuple) -> None:
        self._keeper = keeper
        self._kiln = kiln
        self._care = care

    def all(self) -> list[PlanView]:
        """Every plan that is kept, in the order they came."""
        return [self._view(kept) for kept in self._keeper.state.shelf]

    def one(self, key: str) -> PlanView:
        """The plan under this key; NotThere."""
        return self._view(self._kept(key))

    def table(self, plan: Plan) -> dict[str, object]:
        """A plan of this kiln in the form of its file."""
        return plan_table(plan, self._kiln)

    def toml(self, key: str) -> str:
        """Its file."""
        return plan_to_toml(self._kept(key).plan, self._kiln)

    def create(self, plan: Plan, who: str) -> PlanView:
        """Keep one more; its name has to be its own."""
        shelf = self._keeper.state.shelf
        if len(shelf) >= MOST_PLANS:
            raise Refusal("name", f"{MOST_PLANS} plans are kept already", "take one down first")
        self._own_name(plan.name, "")
        return self._keep(key_of(plan.name, [one.key for one in shelf]), plan, who)

    def create_from(self, table: Table, who: str) -> PlanView:
        """From the form of its file."""
        return self.create(self._possible(plan_from_table(table, self._kiln)), who)

    def create_from_toml(self, text: str, who: str) -> PlanView:
        """From its file's own text."""
        return self.create(self._possible(plan_from_toml(text, "plan.toml", self._kiln)), who)

    def copy(self, key: str, who: str) -> PlanView:
        """The same plan under another name."""
        kept, shelf = self._kept(key), self._keeper.state.shelf
        return self.create(replace(kept.plan, name=copy_name(kept.plan.name, [one.plan.name for one in shelf])), who)

    def change(self, key: str, version: int, table: Table, who: str) -> PlanView:
        """Write it anew; ChangedMeanwhile where it is another version by now."""
        self._of_version(key, version)
        plan = self._possible(plan_from_table(table, self._kiln))
        self._own_name(plan.name, key)
        return self._keep(key, plan, who)

    def remove(self, key: str, version: int, who: str) -> Done:
        """Take it down; the last one stays."""
        self._of_version(key, version)
        if len(self._keeper.state.shelf) == 1:
            raise Refusal("key", "this is the only plan", "make another one first")
        return self._keeper.write_down(PlanKept(key, None, who))

    def outlook(self, table: Table, damp: bool, there_utc_ms: int | None = None) -> Outlook:
        """What this plan should do here; Refusal for one that cannot be."""
        plan = plan_from_table(table, self._kiln)
        expected = self._expect(plan)
        refuse_impossible(self._kiln, plan, expected)
        lighting = None if there_utc_ms is None else light_by(expected, there_utc_ms)
        said = doubts(self._kiln, plan, expected, damp)
        return Outlook(plan, expected, said, timer_minutes(expected, plan), lighting)

    # A firing begins

    def beginning(self) -> Beginning:
        """What somebody who starts a firing is offered, as last time where there was one."""
        state = self._keeper.state
        firing = state.firing
        plan = firing.plan if firing is not None else state.plan
        if plan is None:
            raise Refusal("record", "spyhole has just started and still reads its record", "try again in some seconds")
        under_way = firing is not None and firing.under_way
        key = next((one.key for one in state.shelf if one.plan.name == plan.name), "")
        if not key and state.shelf and not under_way:
            key, plan = state.shelf[0].key, state.shelf[0].plan
        return Beginning(
            kiln=self._kiln,
            begun_utc_ms=firing.started_utc_ms if under_way and firing is not None else None,
            heats_utc_ms=None if under_way else heats_utc_ms(state),
            now_utc_ms=state.line.utc_ms,
            last=firing is not None,
            key=key,
            plan=plan,
            prepared=None if firing is None else firing.prepared,
            cones=cone_names(),
            care=() if under_way else self._care(),
        )

    def start(self, asked: Start) -> Done:
        """Begin a firing: plan, preparation, start, the switches and plugs of its first stage, the timer."""
        state = self._keeper.state
        if state.firing is not None and state.firing.under_way:
            allowed = "log every switch off, or the shut-off tripped, to end it first"
            raise Refusal("start", "a firing is under way", allowed)
        plan = self._as_asked(self._kept(asked.key).plan, asked)
        gap = asked.gap_millimetres
        if gap is not None and not 0.0 <= gap <= MOST_GAP_MILLIMETRES:
            raise Refusal("gap_millimetres", "no trigger has such a gap", f"it is 0 to {MOST_GAP_MILLIMETRES:g} mm")
        since = heats_utc_ms(state) if asked.claim else None
        if asked.claim and since is None:
            raise Refusal("claim", "the kiln does not heat without a firing", "start it as it is lit")
        entry = check_entry(EntryKind.START, "", plan.cone, asked.who, self._kiln, plan)
        entries = [replace(entry, happened_utc_ms=since)]
        if not asked.claim:
            entries += self._first_hands(plan, asked.who)
        if asked.timer_minutes is not None:
            entries.append(check_entry(EntryKind.TIMER, "", f"{asked.timer_minutes:g}", asked.who, self._kiln, plan))
        seen = Preparation(asked.damp, asked.seated, asked.rod_centred, gap, asked.who)
        return self._keeper.write_down(PlanEdit(plan, asked.who), seen, *entries)

    def _first_hands(self, plan: Plan, who: str) -> list[Entry]:
        first = plan.stages[0]
        hands = [
            check_entry(EntryKind.SWITCH, ring.name, setting.value, who, self._kiln, plan)
            for ring, setting in zip(self._kiln.rings, first.switches, strict=True)
            if setting is not Switch.OFF
        ]
        if first.plugs is not None:
            hands.append(check_entry(EntryKind.PLUGS, "", first.plugs.value, who, self._kiln, plan))
        return hands

    def _as_asked(self, plan: Plan, asked: Start) -> Plan:
        """The kept plan with what is different today. Checked anew: a clay that melts is refused here."""
        table = plan_table(plan, self._kiln)
        today = {
            "cone": asked.cone,
            "shutoff_cone": asked.shutoff_cone or asked.cone,
            "lowest_firing_clay_cone": asked.lowest_firing_clay_cone,
            "ware": asked.ware,
        }
        table.update({key: value for key, value in today.items() if value is not None})
        if asked.cone is not None and asked.cone != plan.cone:
            # Where the stages ended last time tells of another cone.
            for stage in table["stage"] if isinstance(table["stage"], list) else []:
                if stage.get("until") == "cone":
                    stage.pop("expected_hours", None)
        return self._possible(plan_from_table(table, self._kiln))

    # Inside

    def _possible(self, plan: Plan) -> Plan:
        refuse_impossible(self._kiln, plan, self._expect(plan))
        return plan

    def _expect(self, plan: Plan) -> Expected:
        state = self._keeper.state
        learned = lessons(state)
        last = (state.firing.plan,) if state.firing is not None else ()
        teacher = teacher_of((plan, *last, *(one.plan for one in state.shelf)))
        return expect(self._kiln, plan, teacher, learned)

    def _keep(self, key: str, plan: Plan, who: str) -> PlanView:
        self._keeper.write_down(PlanKept(key, plan, who))
        return self.one(key)

    def _own_name(self, name: str, key: str) -> None:
        if any(one.plan.name == name and one.key != key for one in self._keeper.state.shelf):
            raise Refusal("name", f"another plan is called {name!r}", "give this one a name of its own")

    def _of_version(self, key: str, version: int) -> None:
        if self._kept(key).version != version:
            raise ChangedMeanwhile

    def _kept(self, key: str) -> KeptPlan:
        for one in self._keeper.state.shelf:
            if one.key == key:
                return one
        raise NotThere

    def _view(self, kept: KeptPlan) -> PlanView:
        return PlanView(kept.key, kept.version, kept.plan.name, plan_table(kept.plan, self._kiln))


def heats_utc_ms(state: State) -> int | None:
    """Since when the kiln heats without a firing; None where it does not."""
    heats_ms = state.house.heats_ms
    return None if heats_ms is None else state.line.utc_ms - (state.line.now_ms - heats_ms)


def thinned(course: Course, points: int = 150) -> tuple[tuple[float, ...], tuple[tuple[float, ...], ...]]:
    """Hours and rings of a course, at most about so many instants, the last one kept."""
    every = max(1, len(course.hours) // points)
    kept = [i for i in range(len(course.hours)) if i % every == 0 or i == len(course.hours) - 1]
    return tuple(course.hours[i] for i in kept), tuple(tuple(ring[i] for i in kept) for ring in course.rings)
