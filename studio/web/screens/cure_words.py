"""Resin that cures, on the workpiece's page: when more of it may be poured on, and the oven that hastens it."""

from datetime import datetime, timedelta
from urllib.parse import urlencode

from django.utils import timezone

from studio.equipment.models import Purpose
from studio.web import links
from studio.work.models import StepCode, StepState
from studio.work.queries import Page
from studio.work.queries.cures import recoat


def resin_words(found: Page, now: datetime) -> list[str]:
    """What is to be known before more resin comes to it. No query; in its mould the wait says it."""
    last = max(found.fills, key=lambda fill: (fill.pour.at, fill.pk), default=None)
    if last is None or last.pour.demoulded_at is None or found.workpiece.closed_at is not None:
        return []
    window = recoat(last.pour)
    return [window.words(now)] if window else []


def cures_still(found: Page, now: datetime) -> bool:
    """Whether its resin isn't cured through. No query."""
    return any(
        step.code == StepCode.CAST and step.state == StepState.DONE and step.not_before and step.not_before > now
        for step in found.steps
    )


def into_the_warm(found: Page, now: datetime) -> list[tuple[str, str]]:
    """The oven, while it cures, with time and heat of the resin's sheet where it gives them. No query."""
    url = links.to("load_start")
    if not url or not found.fills or not cures_still(found, now):
        return []
    system = max(found.fills, key=lambda fill: (fill.pour.at, fill.pk)).pour.system
    asked = {"workpiece": str(found.workpiece.pk), "purpose": str(Purpose.POST_CURE.value)}
    if system.post_cure_mdegc:
        asked["set_point"] = str(system.post_cure_mdegc)
    if system.post_cure_s:
        through = now + timedelta(seconds=system.post_cure_s + 59)
        asked["not_before"] = f"{timezone.localtime(through):%Y-%m-%dT%H:%M}"
    return [("Cure it in the warm", f"{url}?{urlencode(asked)}")]
