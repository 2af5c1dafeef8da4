"""A small studio with resin, wood, an oven and a pot, built by the rooms' own operations, and who works in it."""

import re
from datetime import date, datetime, timedelta
from types import SimpleNamespace

from django.test import Client
from django.utils import timezone

from studio.equipment import operations as equipment
from studio.people import operations as people
from studio.people.models import User
from studio.stores import operations as stores
from studio.wood import operations as wood
from studio.work import operations as work

MONEY = 1_000_000
GRAM = 1000
KILO = 1_000_000
BAR = 100_000
HOUR = timedelta(hours=1)
DAY = timedelta(days=1)
PASSWORD = "soft wet shavings fly"  # noqa: S105  an invented one, for tests
# What people type into any box: each must be answered with a page, never a fault.
TRAPS = ("", "0", "-1", "1,5", "<b>x</b>", "O'Brien", "x" * 200, "Жук", "木の器", "1e9", "½", "nan", "\x00")


def an_owner() -> User:
    """The owner, ten days ago: power 0.30 a kWh, 30 an hour, overhead 12 an hour."""
    began = timezone.now() - 10 * DAY
    user = people.set_up_studio(
        studio_name="Hollow Tree Studio", currency="EUR", length_unit="mm", temperature_unit="°C",
        pressure_unit="bar", time_zone="UTC", username="ilse", display_name="Ilse Brand", password=PASSWORD, at=began,
    )  # fmt: skip
    first = date(began.year - 1, 1, 1)
    for key, value in (
        ("tariff_micro", 300_000),
        ("overhead_year_micro", 12_000 * MONEY),
        ("normal_hours_s", 1000 * 3600),
    ):
        people.set_setting(key=key, value=value, by=user, at=began, from_on=first)
    people.set_wage(person=user, rate_micro=30 * MONEY, paid=False, from_on=first, by=user, at=began)
    return user


def of_role(owner: User, role: str) -> User:
    return people.add_user(
        username=role, display_name=f"A {role}", role=role, password=PASSWORD, by=owner, at=timezone.now()
    )


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def a_shop() -> SimpleNamespace:
    """Everything a pour needs: 4 kg of each part, slate blue, a box mould, three dry ash blanks, machines."""
    owner, began = an_owner(), timezone.now() - 9 * DAY
    there = SimpleNamespace(owner=owner, began=began)
    for key, name, kind, amount, paid in (
        ("a", "Clear A", "resin_a", 4 * KILO, 80),
        ("b", "Clear B", "resin_b", 4 * KILO, 60),
        ("blue", "Slate blue", "colorant", 50 * GRAM, 10),
        ("bath_resin", "Bath resin", "stabilizing", 5 * KILO, 150),
        ("oil", "Hard oil", "finish", 500 * GRAM, 20),
    ):
        material = stores.add_material(name=name, kind=kind, by=owner, at=began)
        batch = stores.buy(material=material, amount=amount, paid_micro=paid * MONEY, by=owner, at=began)
        setattr(there, key, material)
        setattr(there, f"{key}_batch", batch)
    there.resin = stores.add_resin_system(
        name="Slow clear", part_a=there.a, part_b=there.b, parts_a=1000, parts_b=1000, mixed_density_kgm3=1000,
        work_time_s=1200, demould_s=4 * 3600, full_cure_s=24 * 3600, smallest_mg=100 * GRAM, largest_mg=5 * KILO,
        ratio_tolerance_ppm=20_000, colorant_limit_ppm=30_000, source="Sheet of March", by=owner, at=began,
    )  # fmt: skip
    there.bath = stores.start_bath(name="The tall chamber", material=there.bath_resin, at=began, by=owner)
    stores.fill_bath(bath=there.bath, amount=2 * KILO, at=began, by=owner)
    there.mould = equipment.add_mould(
        name="Long box", shape="box", length_um=200_000, width_um=100_000, height_um=100_000, by=owner, at=began
    )
    there.oven = equipment.add_machine(
        kind="oven", name="The brick oven", by=owner, at=began, power_w=2000, duty_ppm=500_000, highest_mdegc=200_000,
        price_micro=600 * MONEY, life_s=6000 * 3600,
    )  # fmt: skip
    there.pot = equipment.add_machine(
        kind="pressure_pot", name="The grey pot", by=owner, at=began, inside_diameter_um=300_000,
        inside_height_um=350_000, certified_pa=6 * BAR, relief_pa=5 * BAR, unaltered="yes",
    )  # fmt: skip
    there.ash = wood.add_species(
        common_name="Field ash", botanical_name="Fraxinus", density_kgm3=500, density_basis="oven",
        density_source="an invented table", by=owner, at=began,
    )  # fmt: skip
    lump = work.take_in_lump(
        number="41", mass_mg=12 * KILO, paid_micro=100 * MONEY, species=there.ash, at=began, by=owner
    )
    there.blanks = work.cut(
        parent=lump,
        blanks=[work.BlankSpec(weight=mass, mass_mg=mass) for mass in (3 * KILO, 2 * KILO, 5 * KILO)],
        at=began + HOUR,
        by=owner,
    )
    return there


def dried(there: SimpleNamespace, piece: object, mass_mg: int, at: datetime | None = None) -> None:
    """Bring a blank as far as oven-dry, cleaned, and not to be stabilized."""
    at = at or timezone.now() - HOUR
    work.end_step(workpiece=piece, code="clean", at=at, person=there.owner)
    work.end_step(workpiece=piece, code="dry", at=at, person=there.owner)
    work.weigh(
        workpiece=piece, mass_mg=mass_mg, condition="oven_dry", at=at, by=there.owner, now=timezone.now(), sure=True
    )


def to_cast(there: SimpleNamespace, piece: object, mass_mg: int) -> None:
    dried(there, piece, mass_mg)
    work.leave_out_step(workpiece=piece, code="stabilize", why="dense and sound")


def text(response: object) -> str:
    """What a page says, tags left out, no-break spaces as spaces."""
    html = response.content.decode()
    html = html.split("<main", 1)[-1]
    plain = re.sub(r"<[^>]+>", " ", html).replace("&#x27;", "'").replace("&amp;", "&").replace("\u00a0", " ")
    return " ".join(plain.split())


def key_of(response: object) -> str:
    return re.search(r'name="submission" value="([^"]+)"', response.content.decode())[1]


def send(client: Client, url: str, data: dict, follow: bool = True) -> object:
    """Open a form and send it, as a person does."""
    return client.post(url, {**data, "submission": key_of(client.get(url))}, follow=follow)


def every_trap(client: Client, url: str, good: dict, names: tuple[str, ...]) -> None:
    """Each trap in each named box is answered with a page that keeps what was typed, or is taken."""
    key = key_of(client.get(url))
    for name in names:
        for trap in TRAPS:
            answer = client.post(url, {**good, name: trap, "submission": key})
            assert answer.status_code in (303, 422), (name, trap, answer.status_code)
            assert "<b>x</b>" not in answer.content.decode()
            if answer.status_code == 303:
                key = key_of(client.get(url))
