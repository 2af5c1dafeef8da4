"""Reading commissions: what is owed to whom, by when, and what each waits for."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import F, Prefetch

from studio.commissions.models import Commission, CommissionEvent, State
from studio.craft.waits import Kind, Wait
from studio.equipment.models import LoadPlace
from studio.equipment.queries import inside_now
from studio.fields.listing import listed
from studio.ledger.queries import balances
from studio.people import settings as studio_settings
from studio.pieces.models import Piece
from studio.work.models import PourFill, Step, StepState, Workpiece

SOON_DAYS = 14
STILL = (StepState.OPEN, StepState.PLANNED)
DESK = {
    "agree": "agree on price and day for",
    "deposit": "take the deposit for",
    "wood": "set wood aside for",
    "deliver": "hand over",
}


@dataclass(frozen=True)
class Waiting:
    """What a commission waits for: a code, a few words, and the clock it hangs on, where there is one."""

    code: str
    words: str
    not_before: datetime | None = None
    workpiece: Workpiece | None = None


@dataclass(frozen=True)
class QueueRow:
    """One commission on the dated list. `left_to_pay_micro` is before tax; None where no price is known yet."""

    commission: Commission
    days_left: int | None
    deposit_micro: int
    left_to_pay_micro: int | None
    workpieces: tuple[Workpiece, ...]
    waiting: Waiting

    @property
    def late(self) -> bool:
        return self.days_left is not None and self.days_left < 0


@dataclass(frozen=True)
class CommissionPage:
    commission: Commission
    events: tuple[CommissionEvent, ...]
    row: QueueRow | None
    deposit_micro: int


def queue(on: date) -> list[QueueRow]:
    """What is still owed to somebody, the earliest day first, those without a day last. Six queries."""
    rows = Commission.objects.open().select_related("client")
    return _rows(rows.order_by(F("by_on").asc(nulls_last=True), "number"), on)


def page(pk: int, on: date) -> CommissionPage | None:
    """One commission with its trail, oldest first, and what it waits for while it is open; None if there is
    none. Nine queries at most."""
    row = (
        Commission.objects.select_related("client", "sale__piece__workpiece")
        .prefetch_related(Prefetch("events", CommissionEvent.objects.select_related("by").order_by("at", "pk")))
        .filter(pk=pk)
        .first()
    )
    if row is None:
        return None
    held = -balances([row.deposit_account_id]).get(row.deposit_account_id, 0)
    open_row = _rows([row], on)[0] if row.is_open else None
    return CommissionPage(row, tuple(row.events.all()), open_row, held)


def ended() -> list[Commission]:
    """Delivered and called off, newest first. One query."""
    rows = Commission.objects.filter(state__in=[State.DELIVERED, State.CALLED_OFF])
    return list(rows.select_related("client", "sale__piece__workpiece").order_by("-ended_at", "-pk"))


def waits(now: datetime) -> list[Wait]:
    """What commissions want done at the desk, and those whose day is near. No client and no money is named.

    Six queries, and those of the settings.
    """
    zone = studio_settings.zone()
    found = []
    for row in queue(now.astimezone(zone).date()):
        code, near = row.waiting.code, row.days_left is not None and row.days_left <= SOON_DAYS
        if code not in DESK and not near:
            continue
        order = row.commission
        kind: Kind = "by" if order.by_on else "since"
        over = datetime.combine(order.by_on + timedelta(days=1), time.min, zone) if order.by_on else None
        wanted = order.wanted.splitlines()[0]
        reason = wanted if code in DESK else f"{wanted}; {row.waiting.words}"
        what = DESK.get(code, "have ready")
        found.append(
            Wait(
                "desk",
                what,
                str(order),
                kind,
                over or order.asked_at,
                reason,
                about=("commissions.commission", order.pk),
            )
        )
    return found


def _rows(commissions: Iterable[Commission], on: date) -> list[QueueRow]:
    orders = list(commissions)
    deposits = balances([order.deposit_account_id for order in orders])
    held: dict[str, list[Workpiece]] = defaultdict(list)
    pieces = (
        Workpiece.objects.on_the_bench()
        .filter(hold_ref__in=[order.ref for order in orders])
        .select_related("piece", "species")
        .prefetch_related(Prefetch("steps", Step.objects.order_by("position", "attempt")))
        .in_shop_order()
    )
    for workpiece in pieces:
        held[workpiece.hold_ref].append(workpiece)
    every = [workpiece for some in held.values() for workpiece in some]
    places = inside_now([workpiece.account_id for workpiece in every])
    moulds = {
        fill.casting_id: fill
        for fill in PourFill.objects.filter(
            casting__in=[workpiece.pk for workpiece in every], pour__demoulded_at__isnull=True
        ).select_related("pour")
    }
    found = []
    for order in orders:
        mine = held[order.ref]
        deposit = -deposits.get(order.deposit_account_id, 0)
        found.append(
            QueueRow(
                order,
                (order.by_on - on).days if order.by_on else None,
                deposit,
                None if order.price_micro is None else order.price_micro - deposit,
                tuple(mine),
                _waiting(order, deposit, mine, places, moulds),
            )
        )
    return found


def _waiting(
    order: Commission,
    deposit: int,
    mine: Sequence[Workpiece],
    places: dict[int, LoadPlace],
    moulds: dict[int, PourFill],
) -> Waiting:
    if order.state == State.ASKED:
        return Waiting("agree", "price and day are to be agreed")
    ready = next((row for row in mine if (piece := _piece(row)) and piece.finished_at is not None), None)
    if ready is not None:
        return Waiting("deliver", f"{ready.number} is finished: hand it over", workpiece=ready)
    if deposit < order.deposit_asked_micro:
        return Waiting("deposit", "the deposit hasn't come yet" if not deposit else "part of the deposit is to come")
    if not mine:
        return Waiting("wood", "no wood is set aside")
    return _of_workpiece(min(mine, key=_still_to_do), places, moulds)


def _still_to_do(workpiece: Workpiece) -> tuple[bool, int]:
    """The one furthest along comes first: a piece before a blank, fewer steps to come before more."""
    return _piece(workpiece) is None, sum(step.state in STILL for step in workpiece.steps.all())


def _of_workpiece(workpiece: Workpiece, places: dict[int, LoadPlace], moulds: dict[int, PourFill]) -> Waiting:
    number, piece = workpiece.number, _piece(workpiece)
    place, fill = places.get(workpiece.account_id), moulds.get(workpiece.pk)
    if place is not None:
        return Waiting("machine", f"{number} is in {place.load.machine.name}", place.load.not_before, workpiece)
    if fill is not None:
        return Waiting("mould", f"{number} is in the mould", fill.pour.demould_not_before, workpiece)
    steps = list(workpiece.steps.all())
    following = next((step for step in steps if step.state in STILL), None)
    if following is not None:
        clocks = [step.not_before for step in steps if step.state == StepState.DONE and step.not_before]
        word = str(following.get_code_display()).lower()
        begun = "being done" if following.state == StepState.OPEN else "next"
        return Waiting("step", f"{number}: {word} is {begun}", max(clocks, default=None), workpiece)
    if piece is not None:
        return Waiting("ticks", f"{number} is still to be {listed(piece.ticks_missing)}", workpiece=workpiece)
    return Waiting("step", f"{number}: nothing more is planned", workpiece=workpiece)


def _piece(workpiece: Workpiece) -> Piece | None:
    return getattr(workpiece, "piece", None)
