"""A studio with three moulds and three dry blanks for them, two colours: run on the data of a served studio."""

from datetime import timedelta

MONEY, GRAM = 1_000_000, 1000
# What 41/1, 41/2 and 41/3 weigh oven-dry at 500 kg/m³, and the moulds they lie in, in cubic millimetres.
DRY_G = (300, 200, 400)
HOLDS_MM3 = {"First pail": 1_000_000, "Second pail": 700_000, "Third pail": 1_200_000}


def build() -> None:
    from django.utils import timezone

    from studio.equipment import operations as equipment
    from studio.people import operations as people
    from studio.stores import operations as stores
    from tests.web.shop import a_shop, to_cast

    there = a_shop()
    red = stores.add_material(name="Brick red", kind="colorant", by=there.owner, at=there.began)
    stores.buy(material=red, amount=20 * GRAM, paid_micro=7 * MONEY, by=there.owner, at=there.began)
    first = there.began.date()
    for key, value, from_on in (("shop_temperature_mdegc", 20_000, first), ("pot_fill_s", 240, None)):
        people.set_setting(key=key, value=value, by=there.owner, at=there.began, from_on=from_on)
    stores.change_resin_system(
        system=there.resin, at=timezone.now(), work_time_at_mdegc=20_000, work_time_mass_mg=3_000 * GRAM
    )
    for nth, (name, holds) in enumerate(HOLDS_MM3.items()):
        equipment.add_mould(
            name=name, shape="measured", fill_mm3=holds, by=there.owner, at=there.began + timedelta(seconds=nth)
        )
    for blank, grams in zip(there.blanks, DRY_G, strict=True):
        to_cast(there, blank, grams * GRAM)


def told() -> dict[str, object]:
    """What the books say after the pour: what is left of each material, and what each casting carries of resin."""
    from django.db.models import Sum

    from studio.ledger import queries as ledger
    from studio.stores.models import Batch
    from studio.work.models import Pour, PourFill
    from studio.work.queries.outcomes import weighed_out

    left = Batch.objects.values_list("material__name").annotate(left=Sum("account__amount"))
    pour = Pour.objects.get()
    return {
        "left": dict(left),
        "poured": [pour.poured_a_mg, pour.poured_b_mg],
        "cup": pour.cup_mg,
        "floor": weighed_out(pour).floor_mg,
        "seen": {
            fill.casting.number: [row.what for row in fill.outcomes.order_by("pk")]
            for fill in PourFill.objects.select_related("casting").order_by("pk")
        },
        "shares": {
            fill.casting.number: [fill.share_mg, fill.screw_words, ledger.cost_of(fill.casting.account).parts]
            for fill in PourFill.objects.select_related("casting__account").order_by("pk")
        },
    }


def main(what: str) -> None:
    import json
    import os
    import sys

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.config.settings")
    import django

    django.setup()
    if what == "build":
        build()
    else:
        sys.stdout.write(json.dumps(told()))


if __name__ == "__main__":
    import sys

    main(sys.argv[1])
