"""The demo studio as it was built for this run: what the story must hold, and that its books are whole."""

import json
from pathlib import Path
from typing import Any

import pytest

from tests import houses

FACTS = """
import json
from collections import Counter
from django.utils import timezone
from studio.commissions.models import Commission
from studio.equipment.models import Load
from studio.ledger import audit
from studio.people import settings as studio_settings
from studio.people.models import User
from studio.pieces.models import AskingPrice, Piece
from studio.pieces import queries as pieces
from studio.selling import queries as selling
from studio.selling.models import Placement, Sale
from studio.stores import queries as stores
from studio.wood.models import Purchase
from studio.wood.models import Bill
from studio.stores.models import Count
from studio.work.models import Descent, Loss, Outcome, Pour, Stabilizing, Step, StepState, Workpiece

now = timezone.now()
today = studio_settings.local_date(now)
bench = Workpiece.objects.on_the_bench()
blanks = bench.exclude(stage__in=["lump", "piece"])
rows = stores.stores_page(today).materials
print(json.dumps({
    "audit": audit.run().summary,
    "roles": sorted(User.objects.values_list("role", flat=True)),
    "lumps": Workpiece.objects.filter(parent_links=None, purchase__isnull=False).count(),
    "signed": Piece.objects.filter(signed_at__isnull=False).count(),
    "lost": Loss.objects.count(),
    "lost at": dict(Counter(Loss.objects.values_list("step", flat=True))),
    "lost by": dict(Counter(Loss.objects.values_list("cause", flat=True))),
    "saved": Descent.objects.filter(how="salvage").count(),
    "in process": blanks.count(),
    "running": sorted(Load.objects.running().values_list("machine__kind", flat=True)),
    "in the bath": Stabilizing.objects.filter(ended_at=None).count(),
    "curing": Step.objects.filter(code="cast", state=StepState.DONE, not_before__gt=now).count(),
    "resting": Step.objects.filter(code="rest", not_before__gt=now, workpiece__in=bench).count(),
    "next": dict(Counter(
        first.code for row in blanks
        if (first := row.steps.filter(state__in=["planned", "open"]).order_by("position", "attempt").first())
    )),
    "hours by": sorted(set(Step.objects.filter(hands_on_s__gt=0).values_list("person__username", flat=True))),
    "sales": Sale.objects.count(),
    "sold at": sorted({str(sale.gallery or "shelf") for sale in Sale.objects.select_related("gallery")}),
    "by card": Sale.objects.filter(card=True).count(),
    "with tax": Sale.objects.filter(tax_micro__gt=0).count(),
    "owing": [
        [row.gallery.name, row.debt.owed_micro, (today - row.debt.due_on).days]
        for row in selling.galleries() if row.debt.owed_micro
    ],
    "shares": sorted({terms.share_ppm for row in selling.galleries() for terms in row.gallery.terms.all()}),
    "held": Placement.objects.open().count(),
    "asked twice": AskingPrice.objects.values("piece").distinct().count() < AskingPrice.objects.count(),
    "orders": sorted(Commission.objects.values_list("state", flat=True)),
    "clients own": bench.filter(
        client_owned=True, piece__finished_at__isnull=False, hold_ref__startswith="commission"
    ).count(),
    "pairs": Workpiece.objects.filter(form="ferry cup pair").count(),
    "seconds": Piece.objects.filter(grade="second").count(),
    "ways out": sorted(Piece.objects.exclude(way_out="").values_list("way_out", flat=True)),
    "given": sorted(set(Purchase.objects.exclude(how="bought").values_list("how", flat=True))),
    "waiting for details": Purchase.objects.with_rest_waiting().count(),
    "late bills": Bill.objects.count(),
    "counted short": Count.objects.filter(value_micro__lt=0).count(),
    "counted over": Count.objects.filter(value_micro__gt=0).count(),
    "overshot": sum(pour.poured_a_mg > pour.planned_a_mg for pour in Pour.objects.all()),
    "stabilized": Stabilizing.objects.filter(ended_at__isnull=False).count(),
    "below": [row.material.name for row in rows if row.below_reorder],
    "looks": sorted(set(Outcome.objects.values_list("what", flat=True))),
    "cups": Pour.objects.filter(cup_mg__gt=0).count(),
    "ageing": [row.material.name for row in rows if row.ageing],
    "pictured": Piece.objects.filter(finished_at__isnull=False, pictures=None).count(),
}))
"""


@pytest.fixture(scope="module")
def facts(demo_template: Path) -> dict[str, Any]:
    env = houses.environment(demo_template, houses.database_of(demo_template))
    done = houses.manage("shell", "--verbosity", "0", "-c", FACTS, env=env)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def test_its_books_are_whole(facts: dict[str, Any]) -> None:
    assert facts["audit"].startswith("0 differences in ")


def test_a_year_and_a_half_of_work_went_through_it(facts: dict[str, Any]) -> None:
    assert facts["lumps"] >= 30
    assert facts["signed"] >= 90
    assert facts["stabilized"] >= 8
    assert facts["hours by"] == ["ines", "tam"]
    assert facts["pictured"] == 0
    assert facts["overshot"] == 1


def test_all_four_roles_can_sign_in(facts: dict[str, Any]) -> None:
    assert facts["roles"] == ["bookkeeper", "maker", "owner", "visitor"]


def test_pieces_were_lost_at_many_steps_and_for_many_reasons(facts: dict[str, Any]) -> None:
    assert facts["lost"] >= 12
    assert len(facts["lost at"]) >= 5
    assert len(facts["lost by"]) >= 6
    assert facts["lost by"]["accident"] == 1
    assert facts["saved"] >= 2


def test_something_waits_at_every_place_of_the_shop(facts: dict[str, Any]) -> None:
    assert facts["in process"] >= 25
    assert {"oven", "vacuum_chamber", "pressure_pot"} <= set(facts["running"])
    assert facts["in the bath"] == 1
    assert facts["curing"] >= 1
    assert facts["resting"] >= 2
    assert {"dry", "stabilize", "cast", "turn", "finish"} <= set(facts["next"])


def test_castings_were_looked_at_and_cups_weighed(facts: dict[str, Any]) -> None:
    assert facts["looks"] == ["cloudy", "good", "void"]
    assert facts["cups"] >= 2


def test_it_sold_at_three_galleries_and_from_its_shelf(facts: dict[str, Any]) -> None:
    assert facts["sales"] >= 35
    assert len(facts["sold at"]) == 4
    assert facts["shares"] == [400_000, 450_000, 500_000]
    assert facts["by card"] >= 1
    assert facts["with tax"] >= 1
    assert facts["held"] >= 6
    assert facts["asked twice"]


def test_one_gallery_is_forty_one_days_late(facts: dict[str, Any]) -> None:
    late = [row for row in facts["owing"] if row[2] > 0]
    assert late == [["North Pier Gallery", 1_140_000_000, 41]]


def test_its_four_orders_stand_differently(facts: dict[str, Any]) -> None:
    assert facts["orders"] == ["agreed", "agreed", "asked", "delivered"]
    assert facts["clients own"] == 1


def test_the_rarer_things_happened_too(facts: dict[str, Any]) -> None:
    assert facts["pairs"] >= 1
    assert facts["seconds"] >= 1
    assert facts["ways out"] == ["donated", "gift", "kept", "sample"]
    assert facts["given"] == ["bartered", "found", "gift"]
    assert facts["late bills"] == 1
    assert facts["waiting for details"] == 2


def test_the_stores_ask_to_be_looked_after(facts: dict[str, Any]) -> None:
    assert facts["counted short"] >= 2
    assert facts["counted over"] >= 1
    assert "Sanding discs" in facts["below"]
    assert "Harbour Clear, Part A" in facts["ageing"]
