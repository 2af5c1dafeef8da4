"""The first day: people, settings, machines, moulds, materials, and the woods the studio knows."""

import secrets
from datetime import datetime, timedelta
from random import Random
from typing import Any

from studio.demo.days import Calendar, moment
from studio.demo.machines_kept import begin_diaries
from studio.demo.shop import Shop
from studio.demo.story import DAY_S, GRAM, HOUR_S, MM, MONEY, PER_CENT, PSI_PA, Story
from studio.equipment import operations as equipment
from studio.equipment.models import Machine, Mould
from studio.people import operations as people
from studio.people.models import User
from studio.selling import operations as selling
from studio.stores import operations as stores
from studio.stores.models import Material, ResinSystem
from studio.wood import operations as wood
from studio.wood.models import Species

DEGREE = 1000
LITRE_MM3 = 1_000_000


def open_shop(story: Story, calendar: Calendar, rng: Random) -> Shop:
    """Will set the empty studio up as it stood on the first morning."""
    at = moment(calendar.start, 7)
    users = _people(story, at)
    owner = users[story.people["users"][0]["username"]]
    _settle(story, owner, at)
    _wages(story, users, owner, at)
    materials = _materials(story, owner, at)
    shop = Shop(
        story=story,
        calendar=calendar,
        rng=rng,
        owner=owner,
        users=users,
        suppliers={row["name"]: people.add_supplier(by=owner, at=at, **row) for row in story.people["suppliers"]},
        clients={row["name"]: people.add_client(by=owner, at=at, **row) for row in story.people["clients"]},
        galleries={},
        species=_species(story, owner, at),
        machines={row["key"]: _machine(row, owner, at) for row in story.shop["machines"]},
        moulds={row["key"]: _mould(row, owner, at) for row in story.shop["moulds"]},
        materials=materials,
        resin=_resin(story, materials, owner, at),
        bath=stores.start_bath(name="The chamber's bath", material=materials["soak"], at=at, by=owner),
        fates=list(story.fates),
    )
    shop.begin(calendar.start)
    begin_diaries(shop, at)
    return shop


def _people(story: Story, at: datetime) -> dict[str, User]:
    """Everybody who signs in. Nobody knows their passwords: one comes in by a one-time link."""
    first, *others = story.people["users"]
    owner = people.set_up_studio(
        studio_name=story.people["studio"],
        currency="EUR",
        length_unit="mm",
        temperature_unit="°C",
        pressure_unit="psi",
        time_zone="Europe/Helsinki",
        number_format="1,234.56",
        username=first["username"],
        display_name=first["name"],
        password=secrets.token_urlsafe(24),
        at=at,
    )
    users = {owner.username: owner}
    for row in others:
        users[row["username"]] = people.add_user(
            username=row["username"],
            display_name=row["name"],
            role=row["role"],
            password=secrets.token_urlsafe(24),
            by=owner,
            at=at,
        )
    return users


def _settle(story: Story, owner: User, at: datetime) -> None:
    answers: dict[str, Any] = {
        "maker_name": story.people["maker_name"],
        "base_url": story.people["address"],
        "altitude_m": 12,
        "shop_temperature_mdegc": 19_000,
        "shop_humidity_ppm": 46 * PER_CENT,
        "tariff_micro": 218_000,
        "overhead_year_micro": 4_680 * MONEY,
        "normal_hours_s": 720 * HOUR_S,
        "loss_allowance_ppm": 15 * PER_CENT,
        "gallery_share_ppm": 45 * PER_CENT,
        "card_fee_ppm": 17_500,
        "cost_to_sell_micro": 9 * MONEY,
        "sales_tax_ppm": 255_000,
        "prices_include_tax": False,
        "signed_number_pattern": "{yy}-{nn}",
        "scale_step_mg": GRAM,
        "forms": tuple(story.forms),
        "finishes": tuple(story.shop["finishes"]),
        "care_words": tuple(story.shop["care"]),
        "caution_words": tuple(story.shop["cautions"]),
    }
    for key, value in answers.items():
        people.set_setting(key=key, value=value, by=owner, at=at)


def _wages(story: Story, users: dict[str, User], owner: User, at: datetime) -> None:
    for row in story.people["users"]:
        if "wage" in row:
            people.set_wage(
                person=users[row["username"]],
                rate_micro=row["wage"] * MONEY,
                paid=row["paid"],
                from_on=at.date(),
                by=owner,
                at=at,
            )


def _species(story: Story, owner: User, at: datetime) -> dict[str, Species]:
    return {
        key: wood.add_species(
            common_name=row["name"],
            botanical_name=row["botanical"],
            other_names=row["other"],
            density_kgm3=row["density"],
            density_basis="oven",
            density_source="our own blocks, measured and weighed oven-dry",
            stabilizing=row["stabilizing"],
            dust_note="Take the dust away at the tool and wear a mask that fits.",
            at=at,
            by=owner,
        )
        for key, row in story.species.items()
    }


def _machine(row: dict[str, Any], owner: User, at: datetime) -> Machine:
    figures: dict[str, Any] = {f"inside_{side}_um": mm * MM for side, mm in row.get("inside_mm", {}).items()}
    figures |= {key: row[key] for key in ("power_w", "highest_rpm") if key in row}
    if "highest_c" in row:
        figures["highest_mdegc"] = row["highest_c"] * DEGREE
    if "certified_psi" in row:
        inspected = at.date() - timedelta(days=20)
        figures |= {
            "certified_pa": row["certified_psi"] * PSI_PA,
            "relief_pa": row["relief_psi"] * PSI_PA,
            "unaltered": row["unaltered"],
            "last_inspected_on": inspected,
            "inspect_by": inspected + timedelta(days=730),
        }
    if "air_l_min" in row:
        figures["delivery_mm3_s"] = row["air_l_min"] * LITRE_MM3 // 60
    if "step_g" in row:
        figures["step_mg"] = row["step_g"] * GRAM
    return equipment.add_machine(
        kind=row["kind"],
        name=row["name"],
        price_micro=row["price"] * MONEY,
        life_s=row["life_h"] * HOUR_S,
        by=owner,
        at=at,
        **figures,
    )


def _mould(row: dict[str, Any], owner: User, at: datetime) -> Mould:
    figures = {f"{side}_um": mm * MM for side, mm in row["mm"].items()}
    figures |= {f"outside_{side}_um": mm * MM for side, mm in row.get("outside_mm", {}).items()}
    return equipment.add_mould(name=row["name"], shape=row["shape"], by=owner, at=at, **figures)


def _materials(story: Story, owner: User, at: datetime) -> dict[str, Material]:
    return {
        row["key"]: stores.add_material(
            name=row["name"],
            kind=row["kind"],
            counted=row.get("counted", False),
            density_kgm3=row.get("density"),
            reorder_level=row["reorder"] * GRAM,
            shelf_life_s=_days(row.get("shelf_days")),
            use_by_after_open_s=_days(row.get("open_days")),
            at=at,
            by=owner,
        )
        for row in story.shop["materials"]
    }


def _days(count: int | None) -> int | None:
    return None if count is None else count * DAY_S


def _resin(story: Story, materials: dict[str, Material], owner: User, at: datetime) -> ResinSystem:
    sheet = story.shop["resin"]
    return stores.add_resin_system(
        name=sheet["name"],
        part_a=materials["a"],
        part_b=materials["b"],
        parts_a=sheet["parts"][0],
        parts_b=sheet["parts"][1],
        source=sheet["source"],
        mixed_density_kgm3=sheet["mixed_density"],
        work_time_s=sheet["work_min"] * 60,
        work_time_at_mdegc=sheet["work_at_c"] * DEGREE,
        work_time_mass_mg=sheet["work_mass_g"] * GRAM,
        demould_s=sheet["demould_h"] * HOUR_S,
        full_cure_s=sheet["cure_h"] * HOUR_S,
        recoat_from_s=sheet["recoat_h"][0] * HOUR_S,
        recoat_to_s=sheet["recoat_h"][1] * HOUR_S,
        post_cure_s=sheet["warm_h"] * HOUR_S,
        post_cure_mdegc=sheet["warm_c"] * DEGREE,
        smallest_mg=sheet["smallest_g"] * GRAM,
        largest_mg=sheet["largest_g"] * GRAM,
        max_depth_um=sheet["depth_mm"] * MM,
        colorant_limit_ppm=sheet["colour_limit_percent"] * PER_CENT,
        ratio_tolerance_ppm=sheet["tolerance_percent"] * PER_CENT,
        at=at,
        by=owner,
    )


def add_galleries(shop: Shop) -> None:
    """Will begin to work with the galleries whose day has come."""
    for row in shop.story.people["galleries"]:
        if row["since"] == shop.number or (row["key"] not in shop.galleries and row["since"] < shop.number):
            shop.galleries[row["key"]] = selling.add_gallery(
                name=row["name"],
                town=row["town"],
                note=row["note"],
                share_ppm=row["share"] * PER_CENT,
                days_to_pay=row["days"],
                collects_tax=True,
                at=shop.at(15, 0),
                by=shop.owner,
            )
