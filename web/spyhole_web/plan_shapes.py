"""What the interface takes and gives of plans: the form of a plan file, as JSON. Its sense is judged by the core."""

from typing import Annotated, Literal

from pydantic import BaseModel, Field, StringConstraints

from spyhole.core.kiln import Kiln, Switch
from spyhole.core.plan import Body, Plugs, Ware
from spyhole.core.plans_course import Course
from spyhole.services.plans import Beginning, Outlook, PlanView, thinned
from spyhole_web.shapes import LARGEST, Asked, Who

Number = Annotated[float, Field(strict=True, ge=-1e6, le=1e6, allow_inf_nan=False)]
Flag = Annotated[bool, Field(strict=True)]
Word = Annotated[str, StringConstraints(max_length=80, pattern=r"^[^\x00-\x1f\x7f]*$")]
Key = Annotated[str, Field(max_length=60, pattern=r"^[a-z0-9-]+$", examples=["bisque-cone-05-overnight"])]
Cone = Annotated[str, Field(max_length=8, examples=["05"], description="a cone's name: 05 and 5 are 155 degC apart")]
Instant = Annotated[int, Field(strict=True, ge=0, le=LARGEST)]


class StageTable(Asked):
    """One stage, as in a plan file: one of hours, until_celsius and until ends it."""

    name: Word = Field(examples=["candling"])
    switches: dict[Word, Switch] = Field(
        max_length=8, examples=[{"bottom": "low", "middle": "off", "top": "off"}], description="a setting for each ring"
    )
    hours: Number | None = Field(default=None, examples=[9])
    until_celsius: Number | None = None
    until: Literal["cone"] | None = None
    plugs: Plugs | None = Field(default=None, examples=["out"])
    ceiling_celsius: Number | None = None
    climb_limit: Number | None = None
    soak_minutes: Number | None = None
    expected_hours: Number | None = None
    expected_end_celsius: dict[Word, Number] | None = None


class SpreadTable(Asked):
    """How unequal the rings may be, and from where on."""

    limit_celsius: Number
    above_celsius: Number


class DampTable(Asked):
    """Fastest climb while steam may leave."""

    celsius_per_hour: Number | None = None
    from_celsius: Number | None = None
    to_celsius: Number | None = None


class CoolingLimitTable(Asked):
    """No faster than this through this band."""

    from_celsius: Number
    to_celsius: Number
    celsius_per_hour: Number


class CoolingTable(Asked):
    """When the lid may be cracked and opened, the ware unloaded."""

    crack_below_celsius: Number | None = None
    open_below_celsius: Number | None = None
    unload_below_celsius: Number | None = None
    limits: list[CoolingLimitTable] | None = Field(default=None, max_length=20)


class PlanTable(Asked):
    """A plan, with the keys of a plan file. What is left out is as usual."""

    name: Word = Field(examples=["Bisque, cone 05, overnight"])
    cone: Cone
    body: Body | None = None
    shutoff_cone: Cone | None = None
    lowest_firing_clay_cone: Cone | None = None
    ware: Ware | None = None
    reference_ring: Word | None = None
    timer_margin_minutes: Number | None = None
    spread: SpreadTable | None = None
    damp: DampTable | None = None
    cooling: CoolingTable | None = None
    stage: list[StageTable] = Field(max_length=50)

    def table(self) -> dict[str, object]:
        """As a plan file reads: what is not said is not there."""
        return self.model_dump(mode="json", exclude_none=True)


class PlanAsked(Asked):
    """A plan to keep."""

    plan: PlanTable
    who: Who = ""


class PlanTomlAsked(Asked):
    """A plan file's text."""

    toml: str = Field(max_length=40_000, examples=['name = "Glaze"\ncone = "05"\n'])
    who: Who = ""


class PlanWho(Asked):
    """Who does it."""

    who: Who = ""


class PlanKeptView(BaseModel):
    """A plan that is kept. version: the number in its ETag, which a change has to name in If-Match."""

    key: str
    version: int
    plan: PlanTable

    @classmethod
    def of(cls, view: PlanView) -> "PlanKeptView":
        """As the page gets it."""
        return cls(key=view.key, version=view.version, plan=PlanTable.model_validate(view.table))


class Shelf(BaseModel):
    """All plans that are kept, and the kiln they are for."""

    kiln: str
    rings: list[str]
    maximum_celsius: float
    cone_shutoff: bool
    cones: list[str]
    plans: list[PlanKeptView]


class OutlookAsked(Asked):
    """A plan to look ahead with, kept or not. there_utc_ms: when somebody wants to see the cone go down."""

    plan: PlanTable
    damp: Flag = False
    there_utc_ms: Instant | None = None


class RingCourse(BaseModel):
    """One ring's curve, as long as the hours."""

    name: str
    celsius: list[float]


class StageCourse(BaseModel):
    """When a stage begins."""

    name: str
    from_hours: float


class EdgeCourse(BaseModel):
    """The reference ring of a kiln that heats better, or worse, than believed."""

    hours: list[float]
    celsius: list[float]


class HoursBetween(BaseModel):
    """Hours from lighting. high is null where a weak kiln might never get there."""

    low: float
    likely: float
    high: float | None


class DoubtView(BaseModel):
    """What to think about. field: as in a refusal."""

    field: str
    words: str


class LightingView(BaseModel):
    """Light at this instant, and it goes down between these two."""

    light_utc_ms: int
    down_low_utc_ms: int
    down_high_utc_ms: int


class OutlookView(BaseModel):
    """What a plan should do here. known: whether a good firing of this kiln stands behind it."""

    hours: list[float]
    rings: list[RingCourse]
    quick: EdgeCourse
    slow: EdgeCourse
    stages: list[StageCourse]
    down: HoursBetween | None
    off: HoursBetween | None
    timer_minutes: int | None
    known: bool
    doubts: list[DoubtView]
    lighting: LightingView | None

    @classmethod
    def of(cls, seen: Outlook, kiln: Kiln) -> "OutlookView":
        """As the page gets it: hours to a minute, degrees to a tenth."""
        expected, plan = seen.expected, seen.plan
        hours, rings = thinned(expected.likely)
        stages = zip(plan.stages, expected.likely.stages, strict=False)
        lighting = seen.lighting
        return cls(
            hours=_short(hours, 3),
            rings=[RingCourse(name=r.name, celsius=_short(c)) for r, c in zip(kiln.rings, rings, strict=True)],
            quick=_edge(expected.quick, plan.reference_ring),
            slow=_edge(expected.slow, plan.reference_ring),
            stages=[StageCourse(name=stage.name, from_hours=round(at, 3)) for stage, at in stages],
            down=_between(expected.quick.down_hours, expected.likely.down_hours, expected.slow.down_hours),
            off=_between(expected.quick.off_hours, expected.likely.off_hours, expected.slow.off_hours),
            timer_minutes=seen.timer_minutes,
            known=expected.known,
            doubts=[DoubtView(field=one.field, words=one.words) for one in seen.doubts],
            lighting=None
            if lighting is None
            else LightingView(
                light_utc_ms=lighting.light_utc_ms,
                down_low_utc_ms=lighting.down_low_utc_ms,
                down_high_utc_ms=lighting.down_high_utc_ms,
            ),
        )


class PreparationView(BaseModel):
    """How the kiln was made ready last time; null: nobody said."""

    damp: bool | None
    seated: bool | None
    rod_centred: bool | None
    gap_millimetres: float | None


class StartOffered(BaseModel):
    """What somebody who starts a firing is offered: as last time where there was one.

    begun_utc_ms: of the firing under way. heats_utc_ms: since when the kiln heats without one, which can be claimed.
    """

    kiln: str
    begun_utc_ms: int | None
    heats_utc_ms: int | None
    now_utc_ms: int
    last: bool
    key: str
    plan: PlanTable
    prepared: PreparationView | None
    care: list[str] = Field(description="what has to be seen to at this kiln first, such as a probe that drifts")

    @classmethod
    def of(cls, seen: Beginning, table: dict[str, object]) -> "StartOffered":
        """As the page gets it."""
        was = seen.prepared
        return cls(
            kiln=seen.kiln.name,
            begun_utc_ms=seen.begun_utc_ms,
            heats_utc_ms=seen.heats_utc_ms,
            now_utc_ms=seen.now_utc_ms,
            last=seen.last,
            key=seen.key,
            plan=PlanTable.model_validate(table),
            prepared=None
            if was is None
            else PreparationView(
                damp=was.damp, seated=was.seated, rod_centred=was.rod_centred, gap_millimetres=was.gap_millimetres
            ),
            care=list(seen.care),
        )


class StartAsked(Asked):
    """A firing to begin by a plan that is kept; what is null is as in the plan, or was not looked at."""

    key: Key
    cone: Cone | None = None
    shutoff_cone: Cone | None = None
    lowest_firing_clay_cone: Cone | None = Field(default=None, examples=["04"], description="of all clays aboard")
    ware: Ware | None = None
    damp: Flag | None = Field(default=None, description="the ware is not bone dry", examples=[True])
    seated: Flag | None = Field(default=None, description="the cone in the shut-off is seated", examples=[True])
    rod_centred: Flag | None = Field(default=None, description="its rod is centred on the cone", examples=[True])
    gap_millimetres: Number | None = Field(default=None, description="of the shut-off's trigger", examples=[4.8])
    timer_minutes: Number | None = Field(default=None, description="what the backup timer was wound to", examples=[720])
    claim: Flag = Field(default=False, description="it heats already, and began when that was first seen")
    who: Who = ""


def _short(values: tuple[float, ...], digits: int = 1) -> list[float]:
    return [round(value, digits) for value in values]


def _edge(course: Course, ring: int) -> EdgeCourse:
    hours, rings = thinned(course)
    return EdgeCourse(hours=_short(hours, 3), celsius=_short(rings[ring]))


def _between(low: float | None, likely: float | None, high: float | None) -> HoursBetween | None:
    if low is None or likely is None:
        return None
    return HoursBetween(low=round(low, 3), likely=round(likely, 3), high=None if high is None else round(high, 3))
