"""What one must know of a workpiece before it turns: how it is held, how fast it may run, what is inside it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from studio.craft import turning
from studio.equipment.models import Machine, MachineKind
from studio.work.models import Balance, Descent, Mount, Outcome, Overruled, PourFill, Workpiece
from studio.work.queries.cures import cures_until
from studio.work.queries.lying_out import overruled_of
from studio.work.queries.outcomes import outcomes_of

GENERATIONS = 6
# What makes a piece doubtful on the lathe: it may be heavy on one side, or let go.
DOUBTFUL = (Outcome.What.VOID, Outcome.What.SOFT, Outcome.What.CRACKED)
WARNED = (*DOUBTFUL, Outcome.What.LEAK, Outcome.What.FLOATED)


@dataclass(frozen=True)
class Limit:
    """The most revolutions a minute on one lathe; `by_plate` where the lathe's own plate says less than the rule."""

    lathe: Machine | None
    rpm: int
    by_plate: bool


@dataclass(frozen=True)
class Lathe:
    """The lathe card. `now`: how it is held, `earlier` how it, and what it came of, was held before.
    `screws`: where screws sit, in the maker's words; `seen`: what came out of the mould and matters here;
    `overruled`: words with which it was cast although not known to be dry; `cures`: until when its resin cures."""

    now: Mount | None
    earlier: tuple[Mount, ...]
    limits: tuple[Limit, ...]
    rim_m_s: float | None
    doubtful: bool
    screws: tuple[str, ...]
    seen: tuple[Outcome, ...]
    overruled: tuple[Overruled, ...]
    cures: datetime | None

    @property
    def rpm(self) -> int | None:
        """The least any lathe here allows; None while nobody said how wide it is."""
        return min((limit.rpm for limit in self.limits), default=None)


def lathe_card(piece: Workpiece, now: datetime) -> Lathe:
    """Everything the card says of a workpiece and of what it was cut, cast or joined from. Twelve queries at most, no
    money."""
    keys = _with_what_it_came_of(piece.pk)
    mounts = tuple(Mount.objects.filter(workpiece__in=keys).select_related("workpiece", "by"))
    own = tuple(row for row in mounts if row.workpiece_id == piece.pk)
    screws = PourFill.objects.filter(casting__in=keys).exclude(screw_words="").order_by("pk")
    seen = tuple(row for rows in outcomes_of(keys).values() for row in rows if row.what in WARNED)
    doubtful = any(row.what in DOUBTFUL for row in seen)
    limits, rim = _limits(own[0] if own else None, doubtful)
    return Lathe(
        now=own[0] if own else None,
        earlier=own[1:] + tuple(row for row in mounts if row.workpiece_id != piece.pk),
        limits=limits,
        rim_m_s=rim,
        doubtful=doubtful,
        screws=tuple(dict.fromkeys(screws.values_list("screw_words", flat=True))),
        seen=seen,
        overruled=tuple(row for rows in overruled_of(keys).values() for row in rows),
        cures=max(cures_until(keys, now).values(), default=None),
    )


def _with_what_it_came_of(pk: int) -> list[int]:
    """Its own key and those of what it came of, a few generations back. Six queries at most."""
    found, ahead = [pk], [pk]
    for _ in range(GENERATIONS):
        ahead = list(
            Descent.objects.filter(child__in=ahead).exclude(parent__in=found).values_list("parent", flat=True)
        )
        if not ahead:
            break
        found += ahead
    return found


def _limits(mount: Mount | None, doubtful: bool) -> tuple[tuple[Limit, ...], float | None]:
    if mount is None or mount.across_um is None:
        return (), None
    across, balance = mount.across_um, str(Balance(mount.balance))
    lathes: Iterable[Machine] = Machine.objects.in_use().of_kind(MachineKind.LATHE).defer("price_micro")
    rule = turning.top_rpm(across, balance=balance, doubtful=doubtful)
    limits = []
    for lathe in lathes:
        rpm = turning.top_rpm(across, balance=balance, doubtful=doubtful, plate_rpm=lathe.highest_rpm)
        limits.append(Limit(lathe, rpm, by_plate=rpm < rule))
    limits = limits or [Limit(None, rule, by_plate=False)]
    return tuple(limits), turning.rim_m_s(across, min(limit.rpm for limit in limits))
