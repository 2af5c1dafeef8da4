"""The worked numbers of the help page, worked out again from the functions that the screens use."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.template.loader import render_to_string

from studio.craft import (
    allowance,
    cast,
    costing,
    finishing,
    lift,
    mix,
    moisture,
    pot_fit,
    pour_clock,
    pressure,
    pricing,
    room,
    swirl,
    turning,
    upkeep,
    yields,
)
from studio.work.models import PourFill
from studio.work.queries.outcomes import Came, WeighedOut
from tests.web.pages import tables

MICRO = 1_000_000
PAGE = tables(render_to_string("help/formulas.html", {"page": {"title": "", "about": ""}}))


def micro(text: str) -> int:
    return int(Decimal(text) * MICRO)


def money(value: int) -> str:
    return f"{(Decimal(value) / MICRO).quantize(Decimal('0.01'), 'ROUND_HALF_UP')}"


def ppm(percent: str) -> int:
    return int(Decimal(percent) * 10_000)


def numbers(text: str) -> list[str]:
    return [part.strip() for part in text.split(",")]


def _density(says: str, footing: str, at: str) -> str:
    return f"{moisture.density_at(float(says), footing, float(at)):.0f}"  # type: ignore[arg-type]


def _mix(total: str, a: str, b: str, step: str) -> tuple[str, ...]:
    return tuple(str(grams) for grams in mix.split_by_weight(total, (a, b), step))


def _volume(a: str, b: str, dense_a: str, dense_b: str) -> str:
    first, second = mix.parts_by_weight((a, b), (int(dense_a), int(dense_b)))
    return f"{float(second / first):.3f}"


def _cast(across: str, filled: str, wood: str, wood_kgm3: str, resin: str, waste: str) -> str:
    plan = cast.grams_for_cast(
        mould_mm3=cast.round_mm3(int(across) * 1000, int(filled) * 1000),
        resin_kgm3=int(resin),
        parts=(1, 1),
        wood_mg=int(wood) * 1000,
        wood_kgm3=int(wood_kgm3),
        waste_ppm=ppm(waste),
    )
    return str(plan.total_mg // 1000)


def _work_time(says: str, at: str, shop: str) -> str:
    return f"{mix.work_time_s(int(says) * 60, int(at) * 1000, int(shop) * 1000) / 60:.0f}"


KNOWN_BY = {
    "its wood": {"species_kgm3": 500}, "its wood, burr": {"species_kgm3": 500, "burr": True},
    "its own density": {"own_kgm3": 500}, "a bucket": {"bucket_mm3": 1_000_000},
}  # fmt: skip


def _give(holds: str, wood: str, dense: str, by: str) -> tuple[str, str]:
    assert dense == "500"
    blank = room.Wood("41/3", int(wood) * 1000, **KNOWN_BY[by])
    found = room.resin_room(mould_mm3=int(holds) * 1000, woods=[blank])
    return f"{found.mm3 / 1000:.0f}", f"{room.give_or_take(found.spread_mm3) / 1000:.0f}"


def _lift(wood: str, dense: str, resin: str) -> str:
    return f"{lift.lift_mg(int(wood) * 1000, int(dense), int(resin)) / 1000:.0f}"


def _learned(short: str, given: str, took: str) -> tuple[str, str]:
    enough = allowance.enough_share(float(short), 1)
    pasts = [allowance.Past(100_000, int(one) * 1000) for one in numbers(took)]
    found = allowance.allowance(pasts, enough=enough, given_ppm=ppm(given))
    return f"{enough * 100:.0f}", f"{found.ppm / 10_000:.1f}"


def _window(worked: str, fills: str) -> tuple[str, str]:
    found = swirl.swirl_window(int(worked) * 60, int(fills) * 60)
    return f"{found.from_s / 60:.0f}", f"{found.until_s / 60:.0f}"


RUNS = {"runs true": "true", "not round yet": "rough", "heavy on one side": "off"}


def _cure(cured: str, opens: str, shuts: str, at: str, shop: str) -> tuple[str, str, str]:
    warmth = (int(at) * 1000, int(shop) * 1000)
    through, begins = (pour_clock.hold_s(int(hours) * 3600, *warmth) // 3600 for hours in (cured, opens))
    return str(through), str(min(begins, int(shuts))), shuts


def _floor(mixed: str, cup: str, castings: str, wood: str, coats: str) -> str:
    took = (int(castings) - int(wood) - int(coats)) * 1000
    return str(WeighedOut(int(mixed) * 1000, int(cup) * 1000, (Came(PourFill(), None, took),)).floor_mg // 1000)


def _lathe(across: str, runs: str, plate: str) -> str:
    return str(turning.top_rpm(int(across) * 1000, balance=RUNS[runs], plate_rpm=int(plate)))


def _due(every: str, after: str, days: str, ran: str) -> str:
    began = datetime(2026, 3, 2, 8, tzinfo=UTC)
    found = upkeep.due(
        since=began, now=began + timedelta(days=int(days)), every_s=int(every) * 86_400, run_s=int(after) * 3600,
        ran_s=int(ran) * 3600,
    )  # fmt: skip
    return "yes" if found.now else "no"


def _loaded(costs: str, shares: str) -> tuple[str, str]:
    each = [Fraction(share) / 100 for share in numbers(shares)]
    spent = [micro(cost) for cost in numbers(costs)]
    return f"{float(yields.rolled(each)) * 100:.1f}", money(yields.loaded_cost_micro(spent, each))


def _wilson(good: str, tried: str) -> tuple[str, str]:
    low, high = yields.wilson(int(good), int(tried), 0.9)
    return f"{low * 100:.0f}", f"{high * 100:.0f}"


def _split(amount: str, weights: str) -> str:
    return ", ".join(map(str, costing.split(int(amount), [int(weight) for weight in numbers(weights)])))


def _draw(worth: str, holds: str, taken: str) -> str:
    return money(costing.draw_value(micro(worth), int(holds) * 1000, int(taken) * 1000))


def _overhead(year: str, normal: str, booked: str) -> tuple[str, str]:
    rate = costing.overhead_rate(micro(year), int(normal) * 3600)
    return money(rate), money(costing.applied_overhead(rate, int(Decimal(booked) * 3600)))


def _lowest(all_in: str, to_sell: str, share: str, card: str) -> str:
    return money(pricing.lowest_ask(micro(all_in), micro(to_sell), ppm(share), ppm(card)))


def _wage(price: str, share: str, card: str, costs: str, hours: str) -> str:
    return money(pricing.wage_per_hour(micro(price), ppm(share), ppm(card), micro(costs), int(hours) * 3600))


def _fill(litres: str, bar: str, height: str, delivers: str) -> str:
    return str(pour_clock.pot_fill_s(float(litres), float(bar) * 100, float(delivers), float(height)))


def _hold(hours: str, sheet: str, shop: str) -> str:
    return f"{pour_clock.hold_s(int(hours) * 3600, int(sheet) * 1000, int(shop) * 1000) / 3600:.1f}"


def _goes_in(across: str, high: str, long: str, wide: str, tall: str) -> tuple[str, str]:
    box = pot_fit.Outside("box", int(tall) * 1000, None, int(long) * 1000, int(wide) * 1000)
    found = pot_fit.fit([box], pot_diameter_um=int(across) * 1000, pot_height_um=int(high) * 1000)
    return f"{(box.across_um or 0) / 1000:.1f}", "goes in" if found.ruling == "fits" else found.why[0].code


def _bubble(bar: str, height: str) -> str:
    return f"{pressure.bubble_diameter_ratio(float(bar) * 100, float(height)) * 100:.0f}"


def _coat(shape: str, across: str, high: str, spread: str) -> tuple[str, str]:
    surface = finishing.surface_mm2(shape, int(across) * 1000, int(across) * 1000, int(high) * 1000)  # type: ignore[arg-type]
    return f"{surface / 100:.0f}", f"{finishing.coat_mg(surface, int(spread) * 1000) / 1000:.1f}"


# Table: (how many cells of a row are given, what the rest must come to).
WORKED: dict[str, tuple[int, Callable[..., str | tuple[str, ...]]]] = {
    "moisture": (2, lambda wet, dry: f"{moisture.moisture_content(float(wet), float(dry)):.1f}"),
    "emc": (2, lambda air, rh: f"{moisture.equilibrium_moisture(float(air), float(rh) / 100):.1f}"),
    "boiling": (
        1,
        lambda m: (f"{moisture.boiling_point_c(float(m)):.1f}", f"{moisture.oven_set_point_c(float(m)):.1f}"),
    ),
    "density": (3, _density),
    "shrinkage": (2, lambda all_, at: f"{moisture.shrinkage_percent(float(all_), float(at)):.1f}"),
    "uptake": (1, lambda gravity: f"{moisture.most_uptake(float(gravity)):.0f}"),
    "split-by-weight": (4, _mix),
    "overshoot": (3, lambda a, b, went: str(mix.after_overshoot((a, b), went, 0)[1])),
    "volume": (4, _volume),
    "cast": (6, _cast),
    "give-or-take": (4, _give),
    "lift": (3, _lift),
    "allowance-learned": (3, _learned),
    "swirl-window": (2, _window),
    "cure": (5, _cure),
    "floor": (5, _floor),
    "work-time": (3, _work_time),
    "pot-fill": (4, _fill),
    "hold": (3, _hold),
    "pot-fit": (5, _goes_in),
    "bubble": (2, _bubble),
    "lid": (2, lambda bar, mm: f"{pressure.lid_force_n(float(bar) * 100, float(mm)) / 1000:.1f}"),
    "lathe-speed": (3, _lathe),
    "upkeep-due": (4, _due),
    "coat": (4, _coat),
    "split": (2, _split),
    "draw": (3, _draw),
    "loaded": (2, _loaded),
    "wilson": (2, _wilson),
    "lowest": (4, _lowest),
    "wage": (5, _wage),
}


@pytest.mark.parametrize("name", WORKED)
def test_the_worked_numbers_come_out_of_the_studios_own_functions(name: str) -> None:
    given, work_out = WORKED[name]
    assert PAGE[name], "the table is empty"
    for row in PAGE[name]:
        result = work_out(*row[:given])
        assert row[given:] == (list(result) if isinstance(result, tuple) else [result])


def test_the_ovens_hours_come_out_as_they_stand() -> None:
    rows = PAGE["hours"]
    places = [costing.Place(int(w), int(since) * 3600, int(until) * 3600) for w, since, until, _ in rows]
    shares = costing.share_hours(places, 0, 8 * 3600)
    assert [row[3] for row in rows] == [f"{share / 3600:.1f}" for share in shares]
    assert sum(shares) == 8 * 3600


def test_overhead_comes_out_as_it_stands() -> None:
    ((year, normal, by_the_hour, booked, carried),) = PAGE["overhead"]
    assert (by_the_hour, carried) == _overhead(year, normal, booked)


def test_every_table_of_the_page_is_worked_out_again() -> None:
    assert set(PAGE) == {*WORKED, "hours", "overhead"}
