"""What is asked before wood goes into a bath, and how a weighed bath's loss is shared."""

from collections.abc import Collection, Sequence
from datetime import datetime, timedelta

from django.db.models import Q, Sum

from studio.craft.costing import split
from studio.craft.soak import bath_loss
from studio.equipment import queries as equipment
from studio.equipment.models import MachineKind, Purpose
from studio.fields.quantity import show
from studio.people import settings as answers
from studio.stores.models import Bath, Count, Filling, WriteOff
from studio.work.errors import BathTrouble
from studio.work.models import Stabilizing, StabilizingItem, Workpiece

HOT = (Purpose.DRY, Purpose.WARM, Purpose.BAKE, Purpose.POST_CURE)


def before_the_bath(bath: Bath, rows: Sequence[Workpiece], *, dark: Collection[int], at: datetime) -> list[str]:
    """What speaks against it, a sentence each: hot wood, dark beside light, resin past its time. Two queries."""
    return [words for words in (_hot(rows, at), _colours(bath, rows, dark), _kept_too_long(bath, at)) if words]


def _hot(rows: Sequence[Workpiece], at: datetime) -> str:
    cool_s = answers.value("cool_before_bath_s")
    places = equipment.places_of(row.account_id for row in rows)
    for row in rows:
        for place in reversed(places.get(row.account_id, [])):
            if place.load.machine.kind != MachineKind.OVEN or place.load.purpose not in HOT or place.put_in_at > at:
                continue
            if place.out_at is None:
                return f"{row.number} lies in {place.load.machine.name} by the books. Hot wood sets the bath off."
            if at - place.out_at < timedelta(seconds=cool_s):
                ago = show(max(round((at - place.out_at).total_seconds() / 60), 1) * 60, "duration")
                return (
                    f"{row.number} came out of {place.load.machine.name} only {ago} before, and wood cools "
                    f"{show(cool_s, 'duration')} by your setting. Hot wood sets the bath off."
                )
    return ""


def _colours(bath: Bath, rows: Sequence[Workpiece], dark: Collection[int]) -> str:
    darker = [row for row in rows if row.pk in dark]
    lighter = [row for row in rows if row.pk not in dark]
    if darker and lighter:
        return f"{darker[0].number} is dark wood and {lighter[0].number} is light: what it gives off darkens both."
    had = StabilizingItem.objects.filter(stabilizing__bath=bath, dark=True).exists()
    if lighter and had:
        return f"Dark wood was in {bath.name} before: it may darken {lighter[0].number}."
    if darker and not had and not bath.dyed:
        return f"{darker[0].number} is dark wood: it darkens {bath.name} for light wood from now on."
    return ""


def _kept_too_long(bath: Bath, at: datetime) -> str:
    until = bath.good_until
    if until is None or answers.local_date(at) <= until:
        return ""
    return (
        f"The resin in {bath.name} kept until {until:%d %B %Y}, counted from its catalyst. Thick resin stays outside."
    )


def share_the_loss(run: Stabilizing, items: Sequence[StabilizingItem], at: datetime, *, sure: bool) -> None:
    """Set `lost_mg` of the run and each item's share, where the bath was weighed before and after.

    A piece lost on the way drank an amount nobody knows: then nothing is shared. Source: `craft.soak.bath_loss`.
    """
    before, after = run.bath_before_mg, run.bath_after_mg
    if before is None or after is None:
        if after is not None:
            raise BathTrouble("Say what the bath weighed before, too, or leave both empty.", field="bath_before_mg")
        return
    if min(before, after) <= 0:
        raise BathTrouble("A weight is above nothing.", field="bath_after_mg")
    _refuse_others(run, at)
    known = [item for item in items if item.baked_mg is not None]
    filled = _sum(Filling.objects.filter(bath=run.bath, at__gt=run.started_at, at__lte=at))
    thrown = _sum(WriteOff.objects.filter(bath=run.bath, at__gt=run.started_at, at__lte=at))
    kept = sum(item.uptake_mg or 0 for item in known)
    found = bath_loss(before_mg=before, after_mg=after, kept_mg=kept, filled_mg=filled, thrown_mg=thrown)
    if found.odd and not sure:
        raise BathTrouble(_odd_words(found.odd, found.gone_mg, kept), field="bath_after_mg", code="sure")
    if found.odd or len(known) < len(items):
        return
    run.lost_mg = found.lost_mg
    weights = [item.uptake_mg or 0 for item in known]
    if not any(weights):
        weights = [item.dry_mg for item in known]
    for item, share in zip(known, split(found.lost_mg, weights), strict=True):
        item.loss_mg = share
        item.save(update_fields=["loss_mg"])


def _sum(rows) -> int:  # type: ignore[no-untyped-def]
    return rows.aggregate(all=Sum("amount"))["all"] or 0


def _odd_words(odd: str, gone_mg: int, kept_mg: int) -> str:
    if odd == "gained":
        return (
            f"The bath would weigh {show(-gone_mg, 'mass')} more than before. Weigh both in the same vessel, and say "
            "what was filled in. If you say it is right, both weights are kept and nothing is shared."
        )
    return (
        f"{show(gone_mg, 'mass')} left the bath, and the wood kept {show(kept_mg, 'mass')}. One of the weights is "
        "off. If you say it is right, both weights are kept and nothing is shared."
    )


def _refuse_others(run: Stabilizing, at: datetime) -> None:
    """Refuse bath weights that tell of more than this load: another load in it, or a count in between."""
    others = Stabilizing.objects.filter(bath=run.bath, started_at__lt=at).exclude(pk=run.pk)
    if others.filter(
        Q(ended_at=None, drained_at=None)
        | Q(drained_at__gt=run.started_at)
        | Q(drained_at=None, ended_at__gt=run.started_at)
    ).exists():
        raise BathTrouble(
            "Another load was in the same bath meanwhile, so its weight doesn't tell of this one alone. "
            "Leave the bath's weights empty.",
            field="bath_after_mg",
        )
    if Count.objects.filter(bath=run.bath, at__gt=run.started_at, at__lt=at).exists():
        raise BathTrouble(
            "The bath was counted while they were in it: what was missing is off the books already. "
            "Leave the bath's weights empty.",
            field="bath_after_mg",
        )
