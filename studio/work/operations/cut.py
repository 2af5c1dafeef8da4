"""One into many, many into one."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db import transaction

from studio.craft.costing import split
from studio.fields.models import Submission
from studio.ledger import operations as ledger
from studio.ledger.queries import cost_of, costs_of
from studio.people.models import User
from studio.work.errors import BadCut
from studio.work.making import check_number, held_rows, make
from studio.work.models import ClosedAs, Descent, Stage, Step, StepState, Weighing, Workpiece
from studio.work.numbering import child_numbers

WHOLE_PPM = 1_000_000
MOST_BLANKS = 60


@dataclass(frozen=True)
class BlankSpec:
    """One blank to come: its weight in the split (grams, volume or judged value), and what is known of it.

    `mass_mg` is what the scale showed. A weight of nothing is an offcut that carries no cost.
    """

    weight: int
    mass_mg: int | None = None
    number: str = ""
    title: str = ""
    form: str = ""
    length_um: int | None = None
    width_um: int | None = None
    height_um: int | None = None
    flags: dict[str, object] = field(default_factory=dict)


def cut(
    *,
    parent: Workpiece,
    blanks: Sequence[BlankSpec],
    at: datetime,
    kept_weight: int = 0,
    kept_mass_mg: int | None = None,
    route: Sequence[str] | None = None,
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> list[Workpiece]:
    """Will cut a workpiece into blanks, its cost shared by weight; what is kept back keeps its own share.

    Shares are fixed here and never split again, whatever becomes of a sibling: that would hide the loss.
    With nothing kept the parent is closed. Wood that was off (sawdust, bad ends) is simply not among the
    blanks: those that are carry its cost.
    """
    _refuse_bad_cut(blanks, kept_weight)
    with transaction.atomic():
        (parent,) = held_rows([parent])
        held = ledger.lock([parent.account])
        parent.account = held[parent.account_id]
        made = _make_blanks(parent, blanks, at, by, route)
        weights = [spec.weight for spec in blanks]
        total = sum(weights) + kept_weight
        parts = cost_of(parent.account).parts
        moving = {part: value - split(value, [*weights, kept_weight])[-1] for part, value in parts.items()}
        entry_id = None
        if any(moving.values()):
            shares = [(child.account, spec.weight) for child, spec in zip(made, blanks, strict=True)]
            entry_id = ledger.post(
                kind="cut",
                legs=ledger.share_legs(parent.account, shares, moving),
                at=at,
                by=by,
                submission=submission,
                now=now,
            ).entry_id
        cut_at = _moment_of_its_own(parent, at)
        Descent.objects.bulk_create(
            [
                Descent(
                    parent=parent,
                    child=child,
                    how=Descent.How.CUT,
                    share_ppm=share,
                    at=cut_at,
                    entry_id=entry_id,
                )
                for child, share in zip(
                    made, split(_moving_ppm(weights, total), weights or [1]), strict=True
                )
            ]
        )
        if kept_weight:
            if kept_mass_mg:
                Weighing.objects.create(
                    workpiece=parent, mass_mg=kept_mass_mg, at=at, condition=_condition(parent), by=by
                )
        else:
            heir = max(zip(blanks, made, strict=True), key=lambda pair: pair[0].weight)[1]
            close(parent, how=ClosedAs.CUT, heir=heir, at=at)
        return made


def _moment_of_its_own(parent: Workpiece, at: datetime) -> datetime:
    """Two cuts typed for the same minute stay two: the shares of each are of what was there before it."""
    taken = set(Descent.objects.filter(parent=parent, how=Descent.How.CUT, at__gte=at).values_list("at", flat=True))
    while at in taken:
        at += timedelta(microseconds=1)
    return at


def _moving_ppm(weights: Sequence[int], total: int) -> int:
    return WHOLE_PPM * sum(weights) // total


def _refuse_bad_cut(blanks: Sequence[BlankSpec], kept_weight: int) -> None:
    if not blanks:
        raise BadCut("Say how many blanks came off.", field="blanks")
    if len(blanks) > MOST_BLANKS:
        raise BadCut(f"At most {MOST_BLANKS} blanks in one go. Cut the rest in a second go.", field="blanks")
    if any(spec.weight < 0 for spec in blanks) or kept_weight < 0:
        raise BadCut("A share below nothing makes no sense.", field="blanks")
    if not any(spec.weight for spec in blanks):
        raise BadCut("At least one blank must carry some of the cost.", field="blanks")


def _make_blanks(
    parent: Workpiece,
    blanks: Sequence[BlankSpec],
    at: datetime,
    by: User | None,
    route: Sequence[str] | None,
) -> list[Workpiece]:
    offered = iter(child_numbers(parent, len(blanks)))
    made = []
    for spec in blanks:
        number = next(offered)
        flags = {name: getattr(parent, name) for name in ("punky", "spalted", "checked", "bark")} | spec.flags
        child = make(
            number=check_number(spec.number) if spec.number else number,
            stage=Stage.BLANK,
            made_at=at,
            route=route,
            title=spec.title,
            form=spec.form,
            species=parent.species,
            wood_kind=parent.wood_kind,
            purchase=parent.purchase,
            client_owned=parent.client_owned,
            owner=parent.owner,
            hold_reason=parent.hold_reason,
            hold_ref=parent.hold_ref,
            length_um=spec.length_um,
            width_um=spec.width_um,
            height_um=spec.height_um,
            **flags,
        )
        if spec.mass_mg:
            Weighing.objects.create(
                workpiece=child, mass_mg=spec.mass_mg, at=at, condition=_condition(parent), by=by
            )
        _inherit_done_steps(parent, child)
        made.append(child)
    return made


def _inherit_done_steps(parent: Workpiece, child: Workpiece) -> None:
    """What was done to the parent whole need not be done again to its blanks: cleaned is cleaned."""
    done = list(parent.steps.filter(state=StepState.DONE).values_list("code", flat=True))
    Step.objects.filter(workpiece=child, code__in=done, state=StepState.PLANNED).update(
        state=StepState.SKIPPED, skipped_why=f"done on {parent.number}"
    )


def _condition(parent: Workpiece) -> str:
    last = parent.weighings.filter(struck_out=False).order_by("-at", "-pk").first()
    return last.condition if last else Weighing.Condition.WET


def close(workpiece: Workpiece, *, how: str, at: datetime, heir: Workpiece) -> None:
    ledger.close_account(account=workpiece.account, successor=heir.account, at=at)
    workpiece.closed_at, workpiece.closed_as = at, how
    workpiece.hold_reason = workpiece.hold_ref = ""  # what came of it is held instead
    workpiece.save(update_fields=["closed_at", "closed_as", "hold_reason", "hold_ref"])


def join(
    *,
    parts: Sequence[Workpiece],
    at: datetime,
    number: str = "",
    title: str = "",
    form: str = "",
    stage: str = Stage.PIECE,
    how: str = Descent.How.JOIN,
    route: Sequence[str] | None = None,
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Workpiece:
    """Will make one workpiece of several: it takes all their cost, they are closed and name it as successor."""
    if len({part.pk for part in parts}) < 2:
        raise BadCut("Joining takes two parts at least.", field="parts")
    with transaction.atomic():
        rows = held_rows(parts)
        held = ledger.lock(row.account for row in rows)
        first = rows[0]
        owners = {row.owner_id for row in rows if row.client_owned}
        if len(owners) > 1:
            raise BadCut("These parts belong to different clients and can't become one piece.", field="parts")
        if len({row.hold_ref for row in rows if row.hold_ref}) > 1:
            raise BadCut("These parts are held for different people. Let go of one of them first.", field="parts")
        theirs = next((row for row in rows if row.client_owned), None)
        held_one = next((row for row in rows if row.hold_ref), first)
        whole = make(
            number=number or child_numbers(first, 1)[0],
            stage=stage,
            made_at=at,
            route=route,
            title=title or first.title,
            form=form or first.form,
            species=first.species,
            wood_kind=first.wood_kind,
            purchase=first.purchase,
            client_owned=theirs is not None,
            owner=theirs.owner if theirs else None,
            hold_reason=held_one.hold_reason,
            hold_ref=held_one.hold_ref,
        )
        costs = costs_of([row.account_id for row in rows])
        legs = []
        for row in rows:
            row.account = held[row.account_id]
            if row.account_id in costs:
                legs += ledger.share_legs(row.account, [(whole.account, 1)], costs[row.account_id].parts)
        entry_id = None
        if legs:
            entry_id = ledger.post(
                kind="cast" if how == Descent.How.CAST else "join",
                legs=legs,
                at=at,
                by=by,
                submission=submission,
                now=now,
            ).entry_id
        for row in rows:
            Descent.objects.create(
                parent=row, child=whole, how=how, share_ppm=WHOLE_PPM, at=at, entry_id=entry_id
            )
            close(row, how=ClosedAs.JOINED, at=at, heir=whole)
        return whole
