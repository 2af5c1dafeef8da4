"""What is said of a load in the bath: whether wood wants it, its order as taps, the bath's own loss."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from studio.craft.soak import GOOD_VACUUM, Advice, vacuum_share
from studio.fields.quantity import show
from studio.people import settings as answers
from studio.web import links
from studio.web.saying import when
from studio.work.models import Stabilizing
from studio.work.operations.soak import TAPS
from studio.work.queries.soaking import SoakingPage

LEANS = {"do": "Stabilize it", "leave": "Better not stabilized", "either": "Stabilized or not, both are right"}
WHY = {
    "oily": "oil in the wood keeps the resin from setting",
    "resinous": "pitch in the wood keeps the resin out",
    "waxed": "wax keeps the resin out; take it off first",
    "decayed": "it weighs far less than its kind, so it has lost wood",
    "punky": "it is punky",
    "spalted": "it is spalted",
    "light": "light wood is soft, and drinks well",
    "dense": "dense and sound, it has little room for resin",
    "always": "you always do with this wood",
    "never": "you never do with this wood",
    "sound": "it is sound, neither light nor dense",
}
AS_LONG = 1_000_000
CRACKS = "Its cracks are filled by casting, not by thin resin."


def advice_words(advice: Advice) -> str:
    """Stabilize it: it is punky. The maker decides, so it is only said."""
    why = [WHY[reason] for reason in advice.reasons if reason in WHY]
    words = f"{LEANS[advice.leans]}: {', and '.join(why)}."
    return f"{words} {CRACKS}" if "checked" in advice.reasons else words


def vacuum_words(run: Stabilizing) -> str:
    """What the gauge showed, as a share of what this altitude allows where that is known."""
    if run.vacuum_pa is None or run.vacuum_at is None:
        return ""
    shown = show(run.vacuum_pa, "pressure")
    height = answers.known("altitude_m", answers.local_date(run.vacuum_at))
    if height is None:
        return f"{shown} below the air; the settings don't say yet how high the shop lies"
    share = vacuum_share(run.vacuum_pa, height)
    words = f"{shown}, {show(round(min(share, 1) * 100) * 10_000, 'share', digits=0)} of what this altitude allows"
    return words if share >= GOOD_VACUUM else f"{words}. Makers want 87 % and more: look for a leak"


@dataclass(frozen=True)
class Line:
    """One step of the order: what, how it stands, and what can be pressed. `what` is the tap's name, if it is one."""

    word: str
    at: datetime | None
    said: str
    what: str = ""
    next: bool = False
    url: str = ""
    press: str = ""
    back: str = ""
    since: datetime | None = None


def order(page: SoakingPage, now: datetime) -> list[Line]:
    """A load in the trade's order, what can be pressed with it."""
    run = page.run
    done = run.ended_at is not None
    facts: list[tuple[str, str, datetime | None, str, str, str]] = [
        ("cooled", "Cool, sealed, at room temperature", run.cooled_at, "" if run.cooled_at else "not said", "", ""),
        ("under", "Weighted under", run.under_at, "", "", "They are under"),
        ("vacuum", "Vacuum on", run.vacuum_at, vacuum_words(run), "", "It is on"),
        ("bubbles", "Bubbles stopped", run.bubbles_at, _bubbling(run), "", "They stopped"),
        ("soak", "Soaked", None, _soaking(page, now), "", ""),
        ("drained", "Drained and weighed", run.drained_at, "", links.to("stabilizing_drained", run.pk), "Weigh them"),
        ("foil", "In foil", run.foil_at, "", "", "They are in foil"),
        ("baked", "Baked, cleaned, weighed", run.ended_at, "", links.to("stabilizing_baked", run.pk), "Weigh them"),
    ]  # fmt: skip
    ahead = next((f[0] for f in facts if f[2] is None and f[0] not in ("cooled", "soak")), "")
    if run.drained_at and ahead in ("under", "vacuum", "bubbles"):
        ahead = "baked" if run.foil_at else "foil"
    found = []
    for name, word, at, said, url, press in facts:
        tap = name in TAPS
        back = links.to("stabilizing_take_back", run.pk, name) if tap and at and not done else ""
        open_ = not done and at is None
        found.append(
            Line(
                word,
                at,
                said,
                name if tap and open_ else "",
                name == ahead and not done,
                links.to("stabilizing_note", run.pk, name) if tap and open_ else url if open_ else "",
                press if open_ else "",
                back,
                run.vacuum_at if name == "bubbles" == ahead and not done else None,
            )  # fmt: skip
        )
    return found


def _bubbling(run: Stabilizing) -> str:
    if run.vacuum_at is None or run.bubbles_at is None or run.bubbles_at < run.vacuum_at:
        return ""
    took = show(max(round((run.bubbles_at - run.vacuum_at).total_seconds() / 60), 1) * 60, "duration")
    return f"after {took} of vacuum"


def _soaking(page: SoakingPage, now: datetime) -> str:
    until, run = page.soaked_by, page.run
    if until is None:
        return f"{soak_words()}, once the bubbles stop" if run.drained_at is None else ""
    if run.drained_at is not None:
        return "long enough" if run.drained_at >= until else "lifted out earlier"
    return f"not before {when(until, now, clock=True)}" if until > now else f"long enough since {when(until, now)}"


def soak_words() -> str:
    """As long again as the vacuum took, or whatever share of it this studio soaks."""
    factor = answers.value("soak_factor_ppm")
    if factor == AS_LONG:
        return "as long again as the vacuum took"
    return f"{show(factor, 'share')} of the time the vacuum took"


def loss_words(run: Stabilizing, kept_mg: int) -> str:
    """What left the bath, what of it the wood kept, and what became of the rest; empty where it wasn't weighed."""
    if run.bath_before_mg is None or run.bath_after_mg is None:
        return ""
    if run.lost_mg is None:
        before, after = show(run.bath_before_mg, "mass"), show(run.bath_after_mg, "mass")
        return f"The bath weighed {before} before and {after} after, which doesn't tell: nothing of it was shared."
    gone, kept = show(kept_mg + run.lost_mg, "mass"), show(kept_mg, "mass")
    if not run.lost_mg:
        return f"{gone} left the bath, and all of it is in the wood."
    return (
        f"{gone} left the bath, {kept} of it is in the wood. The other {show(run.lost_mg, 'mass')} dripped off and "
        "bled out: it is charged to the pieces by what each kept."
    )


def bath_notes(bath: Any, today: Any) -> list[str]:
    """What to know of a bath before wood goes in: its dye, and how long its resin keeps."""
    found = []
    if bath.dyed:
        found.append("It is dyed: everything in it takes the colour.")
    if bath.good_until and bath.good_until < today:
        found.append(
            f"Its resin kept until {bath.good_until.day} {bath.good_until:%B %Y}: thick resin stays outside."
        )
    return found
