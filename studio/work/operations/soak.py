"""The taps of a load in the bath: what was seen and when. Out of order is asked, each can be taken back."""

from collections.abc import Collection
from datetime import datetime, timedelta

from django.db import transaction

from studio.craft.moisture import air_pressure_pa
from studio.craft.soak import soak_s, vacuum_share
from studio.fields.quantity import show
from studio.people import settings as answers
from studio.people.models import User
from studio.work.errors import BathTrouble, OutOfTime
from studio.work.models import Stabilizing, StabilizingItem

# In the trade's order; `drained` is noted with its weights.
ORDER = ("under", "vacuum", "bubbles", "drained", "foil")
TAPS = ("under", "vacuum", "bubbles", "foil")
SAID = {
    "under": "that they are weighted under",
    "vacuum": "that the vacuum is on",
    "bubbles": "that the bubbles stopped",
    "drained": "what they weigh drained",
    "foil": "that they are in foil",
}
# A gauge may read a little over.
GAUGE_GIVE = 1.02
LOWEST_SHOP_M = -450


def note_soak(
    *,
    run: Stabilizing,
    what: str,
    at: datetime,
    gauge_pa: int | None = None,
    sure: bool = False,
    by: User | None = None,
) -> Stabilizing:
    """Will note that something of a load was seen: `under`, `vacuum` (with its gauge below the air, pascal),
    `bubbles` (they stopped) or `foil`.

    Raises BathTrouble, OutOfTime; out of the trade's order is asked (code "sure").
    """
    if what not in TAPS:
        raise BathTrouble("There is no such thing to note. Choose one of those on the page of the load.")
    with transaction.atomic():
        run = _open(run)
        if getattr(run, f"{what}_at") is not None:
            raise BathTrouble(f"It was said before {SAID[what]}. Take that back to say it anew.", code="said")
        if at < run.started_at:
            raise OutOfTime("They went into the bath later than that. Give the time it was seen.", field="at")
        if gauge_pa is not None:
            _refuse_impossible(gauge_pa, at)
        if not sure:
            _ask_order(run, what, at)
        setattr(run, f"{what}_at", at)
        if what == "vacuum":
            run.vacuum_pa = gauge_pa
        run.save()
        return run


def _open(run: Stabilizing) -> Stabilizing:
    row = Stabilizing.objects.select_for_update(of=("self",)).select_related("bath").get(pk=run.pk)
    if row.ended_at is not None:
        raise BathTrouble("That load is finished already.", code="finished")
    return row


def _refuse_impossible(gauge_pa: int, at: datetime) -> None:
    """No gauge reads lower than nothing: more than the air there is, is a wrong unit or a gauge that is off."""
    known = answers.known("altitude_m", answers.local_date(at))
    height = LOWEST_SHOP_M if known is None else known
    if gauge_pa <= 0:
        raise BathTrouble("A vacuum is above nothing. Read the gauge again.", field="gauge_pa")
    if vacuum_share(gauge_pa, height) > GAUGE_GIVE:
        most = show(round(air_pressure_pa(height)), "pressure")
        raise BathTrouble(
            f"All the air there is here is {most}: no vacuum is deeper. Look at the gauge's unit.", field="gauge_pa"
        )


def _ask_order(run: Stabilizing, what: str, at: datetime) -> None:
    place = ORDER.index(what)
    missing = [name for name in ORDER[:place] if getattr(run, f"{name}_at") is None]
    if missing:
        said = " and ".join(SAID[name] for name in missing)
        raise BathTrouble(f"It wasn't said yet {said}. If this is right all the same, say so.", code="sure")
    before = [name for name in ORDER[:place] if getattr(run, f"{name}_at") > at]
    after = [name for name in ORDER[place + 1 :] if (seen := getattr(run, f"{name}_at")) is not None and seen < at]
    if before or after:
        said = SAID[(before or after)[0]]
        when = "later" if before else "earlier"
        raise BathTrouble(f"It was said for a {when} time {said}. If this is right, say so.", code="sure")


def take_back_soak(*, run: Stabilizing, what: str, by: User | None = None) -> Stabilizing:
    """Will take one tap back. Raises BathTrouble where there is none, or the load is finished."""
    if what not in TAPS:
        raise BathTrouble("There is no such thing to take back.")
    with transaction.atomic():
        run = _open(run)
        if getattr(run, f"{what}_at") is None:
            raise BathTrouble(f"It wasn't said {SAID[what]}; nothing was changed.", code="not_said")
        setattr(run, f"{what}_at", None)
        if what == "vacuum":
            run.vacuum_pa = None
        run.save()
        return run


def soaked_by(run: Stabilizing) -> datetime | None:
    """When the wood will have soaked long enough; None until vacuum and bubbles are noted.

    Source: `craft.soak.soak_s`; the factor is the studio's.
    """
    if run.vacuum_at is None or run.bubbles_at is None:
        return None
    took = max((run.bubbles_at - run.vacuum_at).total_seconds(), 0)
    return run.bubbles_at + timedelta(seconds=soak_s(took, answers.value("soak_factor_ppm") / 1_000_000))


def ask_too_early(run: Stabilizing, at: datetime) -> None:
    """Ask about wood that is lifted out while it bubbles or before it soaked. Nothing where no vacuum was noted."""
    if run.vacuum_at is None or run.drained_at is not None:
        return
    if run.bubbles_at is None:
        raise BathTrouble(
            "It wasn't said yet that the bubbles stopped: air that is still in the wood keeps resin out. "
            "If they did, or that is enough, say so.",
            code="sure",
        )
    until = soaked_by(run)
    if until is not None and at < until:
        share = show(answers.value("soak_factor_ppm"), "share")
        left = show(max(round((until - at).total_seconds() / 60), 1) * 60, "duration")
        raise BathTrouble(
            f"Resin goes in after the bubbles: they want {left} more, {share} of the time the vacuum took by your "
            "setting. If that is enough, say so.",
            code="sure",
        )


def brush_skin(
    *, run: Stabilizing, at: datetime, workpieces: Collection[int] | None = None, by: User | None = None
) -> list[StabilizingItem]:
    """Will note that the cured skin is brushed off: of all that is baked, or of those named by key."""
    with transaction.atomic():
        items = _baked(run, workpieces)
        for item in items:
            if run.ended_at is not None and at < run.ended_at:
                raise OutOfTime("They were baked and weighed later than that.", field="at")
            item.brushed_at = item.brushed_at or at
            item.save(update_fields=["brushed_at"])
        return items


def take_back_brushing(*, run: Stabilizing, workpieces: Collection[int] | None = None) -> list[StabilizingItem]:
    """Will take back that the skin is off. Raises BathTrouble where nothing was baked."""
    with transaction.atomic():
        items = _baked(run, workpieces)
        for item in items:
            item.brushed_at = None
            item.save(update_fields=["brushed_at"])
        return items


def _baked(run: Stabilizing, workpieces: Collection[int] | None) -> list[StabilizingItem]:
    rows = run.items.select_for_update().filter(baked_mg__isnull=False, stabilizing__ended_at__isnull=False)
    if workpieces is not None:
        rows = rows.filter(workpiece__in=workpieces)
    items = list(rows.order_by("pk"))
    if not items:
        raise BathTrouble("Nothing of it is baked and weighed yet. The skin comes off after the bake.")
    return items
