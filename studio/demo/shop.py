"""The shop while its story is told: who works there, what lies where, and what time it is."""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from random import Random

from studio.demo.days import Calendar, Over, moment
from studio.demo.story import Fate, Form, LumpPlan, Story
from studio.equipment.models import Load, Machine, Mould
from studio.people.models import Client, Supplier, User
from studio.pieces.models import Piece
from studio.selling.models import Gallery
from studio.stores.models import Bath, Material, ResinSystem
from studio.wood.models import Species
from studio.work.models import Pour, Stabilizing, Weighing, Workpiece


@dataclass
class Job:
    """One blank on its way through the shop. What the studio doesn't know (`dry_mg`, before it is weighed) is
    known to the story."""

    row: Workpiece
    form: Form
    species: str
    wet_mg: int
    dry_mg: int
    lump: int
    kind: str = "plain"
    soak: bool = False
    ready: datetime | None = None
    mass_mg: int = 0
    resin_mg: int = 0
    colour: str = ""
    turn_min: int = 0
    coats_left: int = 0
    in_oven: datetime | None = None
    seen: list[Weighing] = field(default_factory=list)
    second_half: bool = False
    waits_for: str = ""
    late: bool = False

    @property
    def cast(self) -> bool:
        return bool(self.form.mould)


@dataclass
class Made:
    """A piece on its way to the shelf and on it."""

    piece: Piece
    form: Form
    species: str
    maker: User
    became: datetime
    nth: int = 0
    since: datetime | None = None
    asking: int = 0
    lowest: int = 0
    gallery: str = ""
    waits_for: str = ""


@dataclass
class Bench:
    """What lies where. A job is in one of these lists at a time."""

    lumps: list[tuple[LumpPlan, Workpiece]] = field(default_factory=list)
    to_dry: list[Job] = field(default_factory=list)
    in_oven: list[Job] = field(default_factory=list)
    to_soak: list[Job] = field(default_factory=list)
    soaking: list[Job] = field(default_factory=list)
    to_cast: list[Job] = field(default_factory=list)
    in_mould: list[tuple[Pour, list[Job]]] = field(default_factory=list)
    to_rough: list[Job] = field(default_factory=list)
    to_turn: list[Job] = field(default_factory=list)
    to_sand: list[Job] = field(default_factory=list)
    to_finish: list[Job] = field(default_factory=list)
    to_join: list[Job] = field(default_factory=list)
    done: list[Job] = field(default_factory=list)
    resting: list[Made] = field(default_factory=list)
    shelf: list[Made] = field(default_factory=list)


@dataclass
class Shop:
    story: Story
    calendar: Calendar
    rng: Random
    owner: User
    users: dict[str, User]
    suppliers: dict[str, Supplier]
    clients: dict[str, Client]
    galleries: dict[str, Gallery]
    species: dict[str, Species]
    machines: dict[str, Machine]
    moulds: dict[str, Mould]
    materials: dict[str, Material]
    resin: ResinSystem
    bath: Bath
    bench: Bench = field(default_factory=Bench)
    fates: list[Fate] = field(default_factory=list)
    loads: dict[str, Load] = field(default_factory=dict)
    soaking: Stabilizing | None = None
    day: date = date.min
    left: int = 0
    counts: dict[str, int] = field(default_factory=dict)
    hours_s: dict[str, int] = field(default_factory=dict)
    marks: dict[str, object] = field(default_factory=dict)

    def begin(self, day: date) -> None:
        """Turn to the next day."""
        self.day = day
        self.left = self.calendar.working_days_left(day)

    def at(self, hour: int, minute: int = 0) -> datetime:
        """The moment at this hour of the day. Raises `Over` when the story has ended by then."""
        found = moment(self.day, hour, minute)
        if found > self.calendar.last:
            raise Over
        return found

    @property
    def number(self) -> int:
        """Days since the story began."""
        return (self.day - self.calendar.start).days

    def before_end(self, days: int) -> bool:
        """Whether today lies so many days before the last day, or less."""
        return (self.calendar.last.date() - self.day).days <= days

    def between(self, low: int, high: int) -> int:
        return self.rng.randint(low, high)

    def chance(self, share: float) -> bool:
        return self.rng.random() < share

    def fate(self, step: str) -> Fate | None:
        """The loss that waits for the next blank at this step, if one does by now. Each comes once."""
        for fate in self.fates:
            if fate.step == step and fate.day <= self.number:
                self.fates.remove(fate)
                return fate
        return None

    def count(self, what: str) -> int:
        """Count one more of something, and say how many there are now."""
        self.counts[what] = self.counts.get(what, 0) + 1
        return self.counts[what]

    def worked(self, person: User, seconds: int) -> None:
        self.hours_s[person.username] = self.hours_s.get(person.username, 0) + seconds


def minutes(count: int) -> timedelta:
    return timedelta(minutes=count)
