"""A studio with a pot, a mould too tall for it, and a pour just made in it: run on the data of a served studio."""

from datetime import timedelta

GRAM, MM = 1000, 1000


def build() -> None:
    from django.utils import timezone

    from studio.equipment import operations as equipment
    from studio.people import operations as people
    from studio.stores import operations as stores
    from studio.work import operations as work
    from tests.web.shop import a_shop, to_cast

    there, now = a_shop(), timezone.now()
    sizes = {"outside_length_um": 210 * MM, "outside_width_um": 110 * MM, "outside_height_um": 345 * MM}
    equipment.change_mould(mould=there.mould, by=there.owner, **sizes)
    first = there.began.date()
    for key, value, from_on in (("shop_temperature_mdegc", 20_000, first), ("pot_fill_s", 240, None)):
        people.set_setting(key=key, value=value, by=there.owner, at=there.began, from_on=from_on)
    stores.change_resin_system(system=there.resin, at=now, work_time_at_mdegc=20_000, work_time_mass_mg=3_000 * GRAM)
    for blank in there.blanks[:2]:
        to_cast(there, blank, 500 * GRAM)
    work.pour(
        system=there.resin, fills=[work.Fill(planned_mg=400 * GRAM, blanks=[there.blanks[0]], mould=there.mould)],
        planned_a_mg=200 * GRAM, planned_b_mg=200 * GRAM, poured_a_mg=200 * GRAM, poured_b_mg=200 * GRAM,
        at=now - timedelta(minutes=5), wood_sure=True, by=there.owner, now=now,
    )  # fmt: skip


def plan() -> dict[str, str]:
    """The address of a plan for the second blank, at the scale."""
    from django.urls import reverse

    from studio.equipment.models import Mould
    from studio.stores.models import ResinSystem
    from studio.work.models import Workpiece

    system, mould, blank = (
        ResinSystem.objects.get().pk, Mould.objects.get().pk, Workpiece.objects.get(number="41/2").pk
    )  # fmt: skip
    asked = f"system={system}&mould_0={mould}&blanks_0={blank}&rows=1&go=1"
    return {"mix": f"{reverse('pour_mix')}?{asked}"}


def told() -> dict[str, object]:
    from studio.equipment.models import Load

    load = Load.objects.get()
    return {
        "readings": list(load.readings.values_list("gauge_pa", flat=True)),
        "gauge": load.gauge_pa,
        "ended": load.ended_at is not None,
    }


def main(what: str) -> None:
    import json
    import os
    import sys

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.config.settings")
    import django

    django.setup()
    found = {"build": build, "plan": plan, "told": told}[what]()
    sys.stdout.write(json.dumps(found or {}))


if __name__ == "__main__":
    import sys

    main(sys.argv[1])
