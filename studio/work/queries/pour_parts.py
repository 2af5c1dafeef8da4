"""What a plan of a pour consists of."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from studio.craft import mix
from studio.craft.allowance import Allowance
from studio.craft.pour_clock import PourClock, WorkTime
from studio.craft.room import Room
from studio.craft.swirl import Window
from studio.equipment.models import Mould
from studio.stores.models import Material, ResinSystem
from studio.work.models import Workpiece

GRAM = 1000


@dataclass(frozen=True)
class FillWanted:
    """One mould and what lies in it. `level_um`: filled only so high. `room_mm3`: how much it holds where no
    mould of the studio's is named. `wood_mm3`: the room the wood takes, where somebody measured it. `more_mm3`: what
    a riser or a hollow takes on top. `profile_mm3`: what the turned piece needs, wood and all, where that is less
    than the mould. `bark`: what was done about bark inside, where that isn't as the blank's page says."""

    mould: Mould | None = None
    blanks: Sequence[Workpiece] = ()
    level_um: int | None = None
    room_mm3: int | None = None
    wood_mm3: int | None = None
    more_mm3: int = 0
    profile_mm3: int | None = None
    bark: str = ""


@dataclass(frozen=True)
class BlankIn:
    """One blank as reckoned with: its oven-dry weight, the density it has there, and the room it takes."""

    workpiece: Workpiece
    mass_mg: int
    kgm3: int
    mm3: int
    weighed_at: datetime | None


@dataclass(frozen=True)
class Share:
    """One source of a mould's figure: what it adds to the resin or takes from it, and how far off it may be, nine
    times in ten."""

    words: str
    mm3: int
    give_mm3: int


@dataclass(frozen=True)
class Lift:
    """What the resin lifts one mould's wood with, as a weight that would hold it."""

    mg: int
    wood_mm3: int
    wood_kgm3: int
    must_be_held: bool


@dataclass(frozen=True)
class FillPlan:
    """One mould of a plan. `planned_mg` is its share of all that is mixed, cup and drips in it; `reckoned_mg` what it
    takes without them, `give_mg` how far off that may be, nine times in ten."""

    wanted: FillWanted
    blanks: tuple[BlankIn, ...]
    room_mm3: int
    wood_mg: int
    wood_mm3: int
    resin_mm3: int
    planned_mg: int
    geometry: str
    depth_um: int | None
    reckoned_mg: int = 0
    give_mg: int = 0
    shares: tuple[Share, ...] = ()
    lift: Lift | None = None


@dataclass(frozen=True)
class Holding:
    """What a plan wants of one material and what the stores hold of it, past batches left out."""

    material: Material
    wants: int
    has: int

    @property
    def short(self) -> bool:
        return self.has < self.wants


@dataclass(frozen=True)
class Cup:
    """One of the cups a mix is made in."""

    a_mg: int
    b_mg: int
    colorant_mg: int

    @property
    def mixed_mg(self) -> int:
        return self.a_mg + self.b_mg


@dataclass(frozen=True)
class SwirlWanted:
    """A cup taken out of the mix after the two parts met: its share of the mix, its colours as shares of the cup, and
    the place of the mould it all goes into (None: into all of them)."""

    share_ppm: int
    colours: tuple[tuple[Material, int], ...]
    into: int | None = None


@dataclass(frozen=True)
class SwirlPlan:
    """Such a cup in grams: what is taken out, and of each colour what is stirred into it."""

    wanted: SwirlWanted
    taken_mg: int
    colours: tuple[tuple[Material, int], ...]


@dataclass(frozen=True)
class Clock:
    """The work time for the mass in one cup, and by when the lid must be shut. `fill_s`: how long the pot takes, None
    where nobody knows, and whose figure that is; `degas_s`: how long of it the cup is degassed, in a cup of
    `degas_cup_mm3` at least."""

    mass_mg: int
    time: WorkTime
    clock: PourClock
    hands_s: int
    fill_s: int | None
    fill_whose: str = ""
    degas_s: int = 0
    degas_cup_mm3: int | None = None


@dataclass(frozen=True)
class PourPlan:
    """Grams to mix. `refusals` say why it can't be poured as asked, `cautions` what to think of first.

    With a refusal the figures may be nothing. Colour comes on top of the mixed resin; `swirls` are cups taken out of
    it, `window` when they go in. `give_mg` is how far off
    `fill_mg` may be, nine times in ten; `allowed` where the allowance `waste_ppm` comes from; `cups` are as many as
    scale and sheet ask for.
    """

    system: ResinSystem
    fills: tuple[FillPlan, ...]
    kgm3: int
    waste_ppm: int
    step_mg: int
    fill_mg: int
    waste_mg: int
    total_mg: int
    a_mg: int
    b_mg: int
    colorant: Material | None
    colorant_ppm: int
    colorant_mg: int
    stores: tuple[Holding, ...]
    stores_make_mg: int
    refusals: tuple[str, ...]
    cautions: tuple[str, ...]
    give_mg: int = 0
    allowed: Allowance | None = None
    enough_ppm: int = 0
    cups: tuple[Cup, ...] = ()
    clock: Clock | None = None
    resin_mdegc: int | None = None
    swirls: tuple[SwirlPlan, ...] = ()
    window: Window | None = None
    colour_step_mg: int = 100

    def b_for(self, a_mg: int) -> int:
        """Part B for what of Part A is in the cup, in milligrams on the scale's step; as planned where A is."""
        if a_mg == self.a_mg:
            return self.b_mg
        ratio, step = (self.system.parts_a, self.system.parts_b), Decimal(self.step_mg) / GRAM
        return int(mix.after_overshoot(ratio, Decimal(a_mg) / GRAM, 0, step)[1] * GRAM)


@dataclass(frozen=True)
class RoomFound:
    """One mould as far as it could be reckoned; `resin` is None where something was refused."""

    wanted: FillWanted
    blanks: tuple[BlankIn, ...]
    room_mm3: int
    wood_mm3: int
    geometry: str
    depth_um: int | None
    resin: Room | None
    shares: tuple[Share, ...] = ()

    @property
    def resin_mm3(self) -> int:
        return self.resin.mm3 if self.resin else 0
