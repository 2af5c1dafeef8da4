"""Studios with wood in and out of the oven, built by the rooms' own operations: run on the data of a served studio.

`build`: thirty blanks in the oven, N of 1000 + 10 N grams when it went in and 6 g less an hour before now. `dried`:
two that are dry, one out since eight hours and one still inside.
"""

from datetime import timedelta

GRAM, MONEY = 1000, 1_000_000
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
OUT = timedelta(hours=8)
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


def dried() -> None:
    """41/1 came out dry eight hours ago, two more than the studio lets it lie; 41/2 is dry and still inside. Both are
    to be cast next, and everything for that is there."""
    from django.utils import timezone

    from studio.equipment import operations as equipment
    from studio.equipment.models import LoadPlace
    from studio.work import operations as work
    from tests.web.shop import a_shop

    there, now = a_shop(), timezone.now()
    pair = there.blanks[:2]
    for blank in pair:
        work.end_step(workpiece=blank, code="clean", at=now - 8 * DAY, person=there.owner)
        work.leave_out_step(workpiece=blank, code="stabilize", why="dense and sound")
    put_in, out = now - 3 * DAY, now - OUT
    work.load_up(
        machine=there.oven, workpieces=pair, purpose="dry", set_point_mdegc=103_000, at=put_in, by=there.owner,
        confirm=True, now=now,
    )  # fmt: skip
    for hours, grams in ((6, 820), (24, 803), (48, 800), (60, 800), (63, 800)):
        for blank in pair:
            work.weigh(
                workpiece=blank, mass_mg=grams * GRAM, at=put_in + hours * HOUR, condition="oven", now=now,
                by=there.owner, sure=True,
            )  # fmt: skip
    place = LoadPlace.objects.get(account=pair[0].account_id)
    equipment.take_out(place=place, at=out, by=there.owner, now=now)
    work.weigh(workpiece=pair[0], mass_mg=800 * GRAM, at=out + MINUTE, condition="oven_dry", now=now, by=there.owner)
    work.end_step(workpiece=pair[0], code="dry", at=out + MINUTE, person=there.owner)


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
    if what == "told":
        sys.stdout.write(json.dumps(told()))
    else:
        {"build": build, "dried": dried, "forget": forget}[what]()


if __name__ == "__main__":
    import sys

    main(sys.argv[1])
