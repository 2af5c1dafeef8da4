"""What lies on the bench, where it came from, and what was done to it."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.equipment.models import Load, Mould
from studio.fields.whole import WholeField, whole_checks
from studio.ledger.accounts import Account
from studio.ledger.links import EntryKey
from studio.people.models import Client
from studio.pictures.models import PictureLink
from studio.stores.models import Bath, Material, ResinSystem
from studio.wood.kinds import WoodKind
from studio.wood.models import Purchase, Species


class Stage(models.TextChoices):
    LUMP = "lump", "Lump"
    BLANK = "blank", "Blank"
    CASTING = "casting", "Casting"
    PART = "part", "Part"
    PIECE = "piece", "Piece"


class Bark(models.TextChoices):
    NONE = "none", "no bark inside"
    IN = "in", "bark left in"
    OUT = "out", "bark cleaned out"


class ClosedAs(models.TextChoices):
    CUT = "cut", "cut up"
    JOINED = "joined", "joined into another"
    LOST = "lost", "lost"
    SOLD = "sold", "sold"
    LEFT = "left", "left without a sale"
    RETURNED = "returned", "given back to its owner"


class StepCode(models.TextChoices):
    CLEAN = "clean", "Clean"
    SEASON = "season", "Season"
    DRY = "dry", "Dry"
    STABILIZE = "stabilize", "Stabilize"
    CAST = "cast", "Cast"
    ROUGH = "rough", "Rough"
    REST = "rest", "Rest"
    TURN = "turn", "Turn"
    SAND = "sand", "Sand"
    FINISH = "finish", "Finish"
    OTHER = "other", "Other"


class StepState(models.TextChoices):
    PLANNED = "planned", "to come"
    OPEN = "open", "begun"
    DONE = "done", "done"
    SKIPPED = "skipped", "left out"


class Cause(models.TextChoices):
    """Why it broke: six chips, and one for what no craft could help."""

    CHECKED = "checked", "Checked in drying"
    VOID = "void", "Void or soft resin"
    PARTED = "parted", "Resin let go of the wood"
    CATCH = "catch", "Catch or blow-out"
    THROUGH = "through", "Went through the wall"
    FINISH = "finish", "Finish spoiled it"
    ACCIDENT = "accident", "Fire, flood, fall or theft"


class WorkpieceQuerySet(models.QuerySet["Workpiece"]):
    def on_the_bench(self) -> "WorkpieceQuerySet":
        return self.filter(closed_at__isnull=True)

    def in_shop_order(self) -> "WorkpieceQuerySet":
        return self.order_by("sort_key")


class Workpiece(models.Model):
    """A lump, a blank, a casting, a part or a piece: a number, a history and a balance.

    A blank that is cast and turned stays the same row and the same account; only its stage goes on.
    """

    number = models.CharField(max_length=40, unique=True)
    sort_key = models.CharField(max_length=80, db_index=True)
    account = models.OneToOneField(Account, on_delete=models.PROTECT, related_name="workpiece")
    stage = models.CharField(max_length=8, choices=Stage.choices)
    title = models.CharField(max_length=200, blank=True)
    form = models.CharField(max_length=60, blank=True)
    species = models.ForeignKey(Species, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    wood_kind = models.CharField(max_length=16, choices=WoodKind.choices, blank=True)
    purchase = models.ForeignKey(
        Purchase, null=True, blank=True, on_delete=models.PROTECT, related_name="workpieces"
    )
    punky = models.BooleanField(default=False)
    spalted = models.BooleanField(default=False)
    checked = models.BooleanField(default=False)
    bark = models.CharField(max_length=4, choices=Bark.choices, default=Bark.NONE)
    client_owned = models.BooleanField(default=False)
    owner = models.ForeignKey(Client, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    length_um = WholeField(null=True, blank=True)
    width_um = WholeField(null=True, blank=True)
    height_um = WholeField(null=True, blank=True)
    made_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_as = models.CharField(max_length=8, choices=ClosedAs.choices, blank=True)
    hold_reason = models.CharField(max_length=200, blank=True)
    hold_ref = models.CharField(max_length=60, blank=True, db_index=True)
    lost_number = models.BooleanField(default=False)
    search_text = models.CharField(max_length=600, blank=True)

    objects = WorkpieceQuerySet.as_manager()

    class Meta:
        constraints = [
            *whole_checks("workpiece", "length_um", "width_um", "height_um", at_least=1),
            models.CheckConstraint(
                name="workpiece_closed_says_how",
                condition=Q(closed_at__isnull=True, closed_as="")
                | (Q(closed_at__isnull=False) & ~Q(closed_as="")),
            ),
            models.CheckConstraint(
                name="workpiece_owner_of_clients_own",
                condition=Q(client_owned=True, owner__isnull=False) | Q(client_owned=False),
            ),
        ]
        indexes = [models.Index(fields=["closed_at", "stage"])]

    def __str__(self) -> str:
        return self.number

    @property
    def sound(self) -> bool:
        return not (self.punky or self.spalted or self.checked or self.bark == Bark.IN)

    @property
    def held(self) -> bool:
        return bool(self.hold_reason)


class WorkpiecePicture(PictureLink):
    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="pictures")


class Descent(models.Model):
    """Which workpiece came of which, and by what share of the cost at that time. Never changed afterwards."""

    class How(models.TextChoices):
        CUT = "cut", "cut from"
        CAST = "cast", "cast with"
        JOIN = "join", "joined from"
        SALVAGE = "salvage", "saved from"

    parent = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="children_links")
    child = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="parent_links")
    how = models.CharField(max_length=8, choices=How.choices)
    share_ppm = WholeField()
    at = models.DateTimeField()
    entry = EntryKey(null=True, blank=True)

    class Meta:
        constraints = [
            *whole_checks("descent", "share_ppm", at_least=0),
            models.UniqueConstraint(fields=["parent", "child"], name="descent_once"),
            models.CheckConstraint(condition=~Q(parent=models.F("child")), name="descent_not_of_itself"),
        ]

    def __str__(self) -> str:
        return f"{self.child} {self.how} {self.parent}"


class Weighing(models.Model):
    """What the scale showed: an observation, never a journal amount (wood dries, drinks and is turned away)."""

    class Condition(models.TextChoices):
        WET = "wet", "as it came"
        SEASON = "season", "seasoning"
        OVEN = "oven", "in the oven"
        OVEN_DRY = "oven_dry", "oven-dry"
        DRAINED = "drained", "drained"
        BAKED = "baked", "baked and cleaned"
        CAST = "cast", "cast"
        TURNED = "turned", "turned"
        FINISHED = "finished", "finished"

    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="weighings")
    mass_mg = WholeField()
    step_mg = WholeField(default=1000)
    at = models.DateTimeField()
    condition = models.CharField(max_length=10, choices=Condition.choices)
    load = models.ForeignKey(Load, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    struck_out = models.BooleanField(default=False)

    class Meta:
        constraints = [*whole_checks("weighing", "mass_mg", "step_mg", at_least=1)]
        indexes = [models.Index(fields=["workpiece", "at"])]

    def __str__(self) -> str:
        return f"{self.workpiece_id} {self.mass_mg} mg"


class Step(models.Model):
    """One step of one workpiece. Done again is a new row, and costs again."""

    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="steps")
    code = models.CharField(max_length=10, choices=StepCode.choices)
    attempt = models.PositiveSmallIntegerField(default=1)
    position = models.PositiveSmallIntegerField()
    state = models.CharField(max_length=8, choices=StepState.choices, default=StepState.PLANNED)
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    started_at = models.DateTimeField(null=True, blank=True)
    stopped_at = models.DateTimeField(null=True, blank=True)
    hands_on_s = WholeField(default=0)
    skipped_why = models.CharField(max_length=200, blank=True)
    note = models.CharField(max_length=500, blank=True)
    not_before = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["position", "attempt"]
        constraints = [
            *whole_checks("step", "hands_on_s", at_least=0),
            models.UniqueConstraint(fields=["workpiece", "code", "attempt"], name="step_attempt_once"),
            models.CheckConstraint(
                name="step_skipped_says_why", condition=~Q(state=StepState.SKIPPED) | ~Q(skipped_why="")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.workpiece_id} {self.code} {self.attempt}"


class ClockRun(models.Model):
    """Hands-on time being counted, on the server: one for each person at a time."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=10, choices=StepCode.choices)
    started_at = models.DateTimeField()
    stopped_at = models.DateTimeField(null=True, blank=True)
    seconds = WholeField(null=True, blank=True)
    entry = EntryKey(null=True, blank=True)

    class Meta:
        constraints = [
            *whole_checks("clockrun", "seconds", at_least=0),
            models.UniqueConstraint(
                fields=["person"], condition=Q(stopped_at__isnull=True), name="clock_one_for_each_person"
            ),
        ]

    def __str__(self) -> str:
        return f"clock {self.pk}"


class ClockShare(models.Model):
    """A workpiece the clock runs on, and the part of the time it got when the clock was stopped."""

    run = models.ForeignKey(ClockRun, on_delete=models.PROTECT, related_name="shares")
    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="clock_shares")
    seconds = WholeField(null=True, blank=True)

    class Meta:
        constraints = [
            *whole_checks("clockshare", "seconds", at_least=0),
            models.UniqueConstraint(fields=["run", "workpiece"], name="clock_share_once"),
        ]

    def __str__(self) -> str:
        return f"{self.run_id} {self.workpiece_id}"


class UsualMinutes(models.Model):
    """How long this person usually stands at this step, for those who don't start clocks."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=10, choices=StepCode.choices)
    seconds = WholeField()

    class Meta:
        constraints = [
            *whole_checks("usualminutes", "seconds", at_least=1),
            models.UniqueConstraint(fields=["person", "code"], name="usual_minutes_once"),
        ]

    def __str__(self) -> str:
        return f"{self.person_id} {self.code}"


class Pour(models.Model):
    """One mixing: what was planned, what the scale really showed, and the moulds it went into."""

    system = models.ForeignKey(ResinSystem, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    planned_a_mg = WholeField()
    planned_b_mg = WholeField()
    poured_a_mg = WholeField()
    poured_b_mg = WholeField()
    colour_words = models.CharField(max_length=120, blank=True)
    load = models.ForeignKey(Load, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    demould_not_before = models.DateTimeField(null=True, blank=True)
    full_cure_at = models.DateTimeField(null=True, blank=True)
    demoulded_at = models.DateTimeField(null=True, blank=True)
    entry = EntryKey()
    off_ratio_words = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            *whole_checks("pour", "planned_a_mg", "planned_b_mg", "poured_a_mg", "poured_b_mg", at_least=0)
        ]

    def __str__(self) -> str:
        return f"pour {self.pk}"

    @property
    def poured_mg(self) -> int:
        return self.poured_a_mg + self.poured_b_mg


class PourColorant(models.Model):
    pour = models.ForeignKey(Pour, on_delete=models.PROTECT, related_name="colorants")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="+")
    mass_mg = WholeField()

    class Meta:
        constraints = [*whole_checks("pourcolorant", "mass_mg", at_least=1)]

    def __str__(self) -> str:
        return f"{self.pour_id} {self.material_id}"


class PourFill(models.Model):
    """One mould of a pour and the casting that came of it. All resin weighed into the pour lies on the fills."""

    pour = models.ForeignKey(Pour, on_delete=models.PROTECT, related_name="fills")
    mould = models.ForeignKey(Mould, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    casting = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="fills")
    planned_mg = WholeField()
    share_mg = WholeField()
    wood_mg = WholeField(default=0)
    wood_mm3 = WholeField(default=0)

    class Meta:
        constraints = [*whole_checks("pourfill", "planned_mg", "share_mg", "wood_mg", "wood_mm3", at_least=0)]

    def __str__(self) -> str:
        return f"{self.pour_id} {self.casting_id}"


class Stabilizing(models.Model):
    """One load through the bath: three weights for each workpiece, uptake on the dry weight."""

    bath = models.ForeignKey(Bath, on_delete=models.PROTECT, related_name="+")
    load = models.ForeignKey(Load, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    drained_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    entry = EntryKey(null=True, blank=True)

    def __str__(self) -> str:
        return f"stabilizing {self.pk}"


class StabilizingItem(models.Model):
    stabilizing = models.ForeignKey(Stabilizing, on_delete=models.PROTECT, related_name="items")
    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="stabilizings")
    dry_mg = WholeField()
    drained_mg = WholeField(null=True, blank=True)
    baked_mg = WholeField(null=True, blank=True)

    class Meta:
        constraints = [
            *whole_checks("stabilizingitem", "dry_mg", "drained_mg", "baked_mg", at_least=1),
            models.UniqueConstraint(fields=["stabilizing", "workpiece"], name="stabilizing_item_once"),
        ]

    def __str__(self) -> str:
        return f"{self.stabilizing_id} {self.workpiece_id}"

    @property
    def uptake_mg(self) -> int | None:
        return None if self.baked_mg is None else self.baked_mg - self.dry_mg


class Loss(models.Model):
    """It broke: at which step, why, and what it had cost. Photograph and salvage may come later."""

    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="losses")
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    step = models.CharField(max_length=10, choices=StepCode.choices, blank=True)
    cause = models.CharField(max_length=10, choices=Cause.choices)
    unusual = models.BooleanField(default=False)
    words = models.CharField(max_length=500, blank=True)
    looked_after = models.BooleanField(default=False)
    taken_back_at = models.DateTimeField(null=True, blank=True)
    entry = EntryKey(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["workpiece"], condition=Q(taken_back_at__isnull=True), name="lost_once"
            )
        ]

    def __str__(self) -> str:
        return f"loss of {self.workpiece_id}"


class LossPicture(PictureLink):
    loss = models.ForeignKey(Loss, on_delete=models.PROTECT, related_name="pictures")


__all__ = [
    "Bark",
    "Cause",
    "ClockRun",
    "ClockShare",
    "ClosedAs",
    "Descent",
    "Loss",
    "LossPicture",
    "Pour",
    "PourColorant",
    "PourFill",
    "Stabilizing",
    "StabilizingItem",
    "Stage",
    "Step",
    "StepCode",
    "StepState",
    "UsualMinutes",
    "Weighing",
    "Workpiece",
    "WorkpiecePicture",
]
