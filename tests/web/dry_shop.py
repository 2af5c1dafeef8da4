"""A studio of thirty blanks in the oven, built by the rooms' own operations: run on the data of a served studio.

Each blank N weighs 1000 + 10 N grams when it goes in and 6 g less an hour before now.
"""

from datetime import timedelta

GRAM, MONEY = 1000, 1_000_000
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
NEW = timedelta(hours=2)
BLANKS = 30
IN_G, LOST_G = 1000, 6


def build() -> None:
    from django.utils import timezone

    from studio.equipment import operations as equipment
    from studio.people import operations as people
    from studio.work import operations as work

    now = timezone.now()
    began = now - 9 * DAY
    owner = people.set_up_studio(
        studio_name="Hollow Tree Studio", currency="EUR", length_unit="mm", temperature_unit="°C",
        pressure_unit="bar", time_zone="UTC", username="ilse", display_name="Ilse Brand",
        password="soft wet shavings fly", at=began,  # noqa: S106  an invented one, for tests
    )  # fmt: skip
    oven = equipment.add_machine(
        kind="oven", name="The brick oven", power_w=2000, duty_ppm=500_000, highest_mdegc=200_000, by=owner, at=began
    )
    lump = work.take_in_lump(
        number="41", mass_mg=60_000 * GRAM, paid_micro=90 * MONEY, carriage_micro=0, at=began, by=owner
    )
    masses = [(IN_G + 10 * (number + 1)) * GRAM for number in range(BLANKS)]
    specs = [work.BlankSpec(weight=mass, mass_mg=mass) for mass in masses]
    blanks = work.cut(parent=lump, blanks=specs, at=began + HOUR, by=owner)
    work.load_up(
        machine=oven, workpieces=blanks, purpose="dry", set_point_mdegc=103_000, at=now - DAY, by=owner, confirm=True
    )
    for blank, mass in zip(blanks, masses, strict=True):
        work.weigh(
            workpiece=blank, mass_mg=mass - LOST_G * GRAM, at=now - 3 * HOUR, condition="oven", now=now, by=owner
        )


def forget() -> None:
    """Take away what was weighed since the building."""
    from django.utils import timezone

    from studio.work.models import Weighing

    Weighing.objects.filter(at__gt=timezone.now() - NEW).delete()


def told() -> list[list[object]]:
    """What was weighed since the building, in the order it was stored: number, grams, minutes ago, how it was."""
    from django.utils import timezone

    from studio.work.models import Weighing

    now = timezone.now()
    rows = Weighing.objects.filter(at__gt=now - NEW).select_related("workpiece")
    return [
        [row.workpiece.number, row.mass_mg // 1000, (now - row.at).total_seconds() / 60, row.condition]
        for row in rows.order_by("pk")
    ]


def main(what: str) -> None:
    import json
    import os
    import sys

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.config.settings")
    import django

    django.setup()
    if what == "build":
        build()
    elif what == "forget":
        forget()
    else:
        sys.stdout.write(json.dumps(told()))


if __name__ == "__main__":
    import sys

    main(sys.argv[1])
