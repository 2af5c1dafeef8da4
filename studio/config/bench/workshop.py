"""What somebody in gloves waits for: the plan of a pour, a weight that is noted, a curve of two hundred weights."""

import json
import math
from datetime import timedelta
from itertools import product
from urllib.parse import urlencode
from uuid import uuid4

from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.test.utils import override_settings
from django.urls import reverse
from django.utils import timezone

from studio.config.bench.pages import BARE_URLS, measured, signed_in
from studio.config.bench.told import Figure, median_s, seconds
from studio.equipment.models import LoadPlace, Mould, Purpose
from studio.stores.models import ResinSystem
from studio.work.models import Stage, StepCode, Weighing, Workpiece
from studio.work.operations import cast_all_the_same
from studio.work.queries import not_ready, ready_for

WEIGHTS = 200
TRIED = 12


def figures(times: int) -> list[Figure]:
    """Will measure the bench's own waits; raises AssertionError where there is nothing to plan, weigh or draw."""
    client = signed_in()
    dries = _dries()
    with override_settings(ROOT_URLCONF=BARE_URLS, ALLOWED_HOSTS=["testserver"]):
        plan = measured(client, "the plan of a pour", _plan(client), times)
        noted = _noted(client, dries, times)
        _weighed_often(dries)
        curve = measured(client, f"the curve of {WEIGHTS} weights", reverse("workpiece", args=[dries.pk]), times)
    return [plan, noted, curve]


def _plan(client: Client) -> str:
    """The first pour that could go to the scale: a blank that is next to be cast, in a mould that takes it.

    How long it has lain out is as old as the studio measured: words let it past, in data that are thrown away.
    """
    system = ResinSystem.objects.filter(archived=False).order_by("pk").first()
    moulds = Mould.objects.in_use().order_by("pk").values_list("pk", flat=True)
    blanks = list(ready_for(StepCode.CAST).filter(stage=Stage.BLANK).order_by("pk")[:TRIED])
    assert system, "there is no resin to pour"
    assert blanks, "no blank here comes to its cast next"
    now = timezone.now()
    for found in not_ready(blanks, now):
        if found.refused:
            cast_all_the_same(workpiece=found.workpiece, words="To measure a plan.", at=now, now=now)
    for blank, mould in product([one.pk for one in blanks], moulds[:TRIED]):
        asked = {"system": system.pk, "rows": 1, "mould_0": mould, "blanks_0": blank, "go": 1}
        url = f"{reverse('pour_plan')}?{urlencode(asked)}"
        if reverse("pour_mix") in client.get(url).content.decode():
            return url
    raise AssertionError("no blank here could be poured")


def _dries() -> Workpiece:
    place = (
        LoadPlace.objects.inside()
        .filter(load__ended_at=None, load__purpose=Purpose.DRY)
        .select_related("account__workpiece")
        .order_by("pk")
        .first()
    )
    assert place, "nothing dries in an oven"
    return place.account.workpiece


def _noted(client: Client, dries: Workpiece, times: int) -> Figure:
    """Note one weight as the weigh-in round does, beside a view that does nothing but store the row."""
    url = reverse("weigh_round")

    def post(address: str) -> None:
        said = {
            "key": uuid4().hex, "number": dries.number, "grams": "900", "sure": True,
            "at": timezone.now().isoformat(), "condition": Weighing.Condition.OVEN.value,
        }  # fmt: skip
        answer = client.post(address, json.dumps(said), content_type="application/json")
        assert answer.status_code == 200, f"{address} answered {answer.status_code}: {answer.content.decode()}"

    had = Weighing.objects.filter(workpiece=dries).count()
    ours = median_s(lambda: post(url), times)
    assert Weighing.objects.filter(workpiece=dries).count() == had + times, "not every weight was noted"
    least = median_s(lambda: post(reverse("bare_weight")), times)
    return Figure("a weight is noted", seconds(ours), seconds(least), "one request each")


def bare_weight(request: HttpRequest) -> HttpResponse:
    """Store the row and nothing else: nothing is checked, asked or remembered."""
    said = json.loads(request.body)
    piece = Workpiece.objects.only("pk").get(number=said["number"])
    mass_mg = int(said["grams"]) * 1000
    Weighing.objects.create(workpiece=piece, mass_mg=mass_mg, at=said["at"], condition=said["condition"])
    return HttpResponse("{}", content_type="application/json")


def _weighed_often(dries: Workpiece) -> None:
    """Weigh it two hundred times since it went in, on the way to its dry mass, and leave nothing else standing."""
    place = LoadPlace.objects.inside().get(account=dries.account_id)
    now = timezone.now()
    Weighing.objects.filter(workpiece=dries, at__gt=place.put_in_at).update(struck_out=True)
    step = (now - place.put_in_at) / (WEIGHTS + 1)
    Weighing.objects.bulk_create(
        Weighing(
            workpiece=dries,
            mass_mg=round(900_000 + 300_000 * math.exp(-4 * nth / WEIGHTS)) // 1000 * 1000,
            at=place.put_in_at + step * nth,
            condition=Weighing.Condition.OVEN,
            load_id=place.load_id,
        )
        for nth in range(1, WEIGHTS + 1)
    )
    assert step > timedelta(0), "it went into the oven only now"
