"""A small studio with one of nearly everything in it, built by operations, with figures one would notice.

Costs end in odd coins, so that a test may search a page for them: none comes about by chance.
"""

import io
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from django.core.files.base import ContentFile

from studio.commissions import operations as commissions
from studio.equipment import operations as equipment
from studio.jobs import operations as jobs
from studio.ledger import operations as ledger
from studio.ledger.accounts import Kind
from studio.people import operations as people
from studio.people.models import User
from studio.pictures import operations as pictures
from studio.pieces import operations as pieces
from studio.pieces.models import Piece
from studio.selling import operations as selling
from studio.stores import operations as stores
from studio.wood.models import Species
from studio.work import operations as work
from studio.work.models import Workpiece
from tests.web.kept import laid_out
from tests.web.people_of_a_studio import AT, cast, open_studio

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
MONEY, GRAM, KILO, MM = 1_000_000, 1000, 1_000_000, 1000
FIRST = date(2025, 1, 1)


def coins(text: str) -> int:
    whole, _, cents = text.partition(".")
    return int(whole) * MONEY + int(cents or 0) * 10_000


def day(number: int, hour: int = 0) -> datetime:
    return AT + number * DAY + hour * HOUR


@dataclass
class SmallStudio:
    """Everything that was made, by a word: what `urls()` in the tests fills addresses with."""

    people: dict[str, User]
    things: dict[str, Any] = field(default_factory=dict)

    @property
    def owner(self) -> User:
        return self.people["owner"]

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__") or name in ("people", "things"):
            raise AttributeError(name)
        try:
            return self.things[name]
        except KeyError:
            raise AttributeError(name) from None


def open_small_studio() -> SmallStudio:
    """The small studio, built once for each test process."""
    return laid_out("small", build)


def build() -> SmallStudio:
    owner = open_studio(time_zone="Europe/Berlin")
    small = SmallStudio(cast(owner))
    _settle(owner, small.people["maker"])
    for step in (_stores, _machines, _wood, _work, _finish, _pieces, _selling, _commissions):
        small.things.update(step(small, owner))
    ledger.pay_bill(what=Kind.ENERGY, value=coins("47.91"), at=day(30), by=owner)
    ledger.pay_bill(what=Kind.OVERHEAD, value=coins("913.37"), at=day(30), by=owner)
    args = {"pieces": [small.piece.pk], "what": "card", "paper": "A4", "price": False}
    small.things["job"] = jobs.start(kind="print_pieces", args=args, by=owner, at=day(31))
    small.things["species"] = Species.objects.order_by("pk").first()
    small.things["entry"] = ledger.pay_bill(
        what=Kind.PAID_LABOUR, value=coins("211.13"), at=day(31), by=owner
    ).entry_id
    return small


def _settle(owner: User, maker: User) -> None:
    dated = {
        "tariff_micro": 317_000, "overhead_year_micro": coins("11731.00"), "normal_hours_s": 1000 * 3600,
        "gallery_share_ppm": 450_000, "card_fee_ppm": 17_000, "cost_to_sell_micro": coins("7.30"),
        "sales_tax_ppm": 190_000, "loss_allowance_ppm": 130_000, "altitude_m": 40, "prices_include_tax": True,
        "shop_temperature_mdegc": 19_000, "shop_humidity_ppm": 550_000,
    }  # fmt: skip
    for key, value in dated.items():
        people.set_setting(key=key, value=value, by=owner, at=AT, from_on=FIRST)
    for key, value in {"base_url": "https://hollow.example", "maker_name": "Ilse Brand"}.items():
        people.set_setting(key=key, value=value, by=owner, at=AT)
    people.set_wage(person=owner, rate_micro=coins("31.13"), paid=False, from_on=FIRST, by=owner, at=AT)
    people.set_wage(person=maker, rate_micro=coins("23.71"), paid=True, from_on=FIRST, by=owner, at=AT)


def _stores(small: SmallStudio, owner: User) -> dict[str, Any]:
    supplier = people.add_supplier(name="Quay Resins", by=owner, at=AT)
    made: dict[str, Any] = {"supplier": supplier}

    def bought(word: str, name: str, kind: str, amount: int, paid: str, **more: Any) -> None:
        made[word] = stores.add_material(name=name, kind=kind, by=owner, at=AT, **more)
        made[f"{word}_batch"] = stores.buy(
            material=made[word], amount=amount, paid_micro=coins(paid), carriage_micro=coins("3.11"),
            supplier=supplier, use_by=date(2027, 1, 1), by=owner, at=AT,
        )  # fmt: skip

    bought("part_a", "Clear A", "resin_a", 5 * KILO, "83.71", density_kgm3=1100)
    bought("part_b", "Clear B", "resin_b", 4 * KILO, "61.27", density_kgm3=1000)
    bought("blue", "Slate blue", "colorant", 50 * GRAM, "12.93")
    bought("soak", "Soaking resin", "stabilizing", 6 * KILO, "118.57")
    bought("oil", "Hardening oil", "finish", 2 * KILO, "27.53")
    bought("inserts", "Brass inserts", "fitting", 24_000, "33.97", counted=True)
    made["resin"] = stores.add_resin_system(
        name="Clear casting resin", part_a=made["part_a"], part_b=made["part_b"], parts_a=1000, parts_b=1000,
        mixed_density_kgm3=1050, demould_s=4 * 3600, full_cure_s=24 * 3600, smallest_mg=100 * GRAM,
        largest_mg=5 * KILO, ratio_tolerance_ppm=20_000, colorant_limit_ppm=30_000, by=owner, at=AT,
    )  # fmt: skip
    made["bath"] = stores.start_bath(name="The blue chamber", material=made["soak"], by=owner, at=AT)
    stores.fill_bath(bath=made["bath"], amount=4 * KILO, by=owner, at=AT)
    stores.count(material=made["oil"], really_there=1_900_000, by=owner, at=day(1))
    return made


def _machines(small: SmallStudio, owner: User) -> dict[str, Any]:
    oven = equipment.add_machine(
        kind="oven", name="The brick oven", by=owner, at=AT, power_w=2000, duty_ppm=500_000,
        highest_mdegc=200_000, price_micro=coins("613.00"), life_s=6000 * 3600,
    )  # fmt: skip
    pot = equipment.add_machine(
        kind="pressure_pot", name="The green pot", by=owner, at=AT, certified_pa=550_000, relief_pa=500_000,
        unaltered="yes", inside_diameter_um=300 * MM, inside_height_um=350 * MM, price_micro=coins("397.00"),
        life_s=5000 * 3600,
    )  # fmt: skip
    mould = equipment.add_mould(
        name="Pail 200", shape="round", diameter_um=200 * MM, height_um=120 * MM, by=owner, at=AT
    )
    return {"oven": oven, "pot": pot, "mould": mould}


def _wood(small: SmallStudio, owner: User) -> dict[str, Any]:
    lump = work.take_in_lump(
        number="41", mass_mg=12 * KILO, paid_micro=coins("91.37"), carriage_micro=coins("8.59"), at=AT, by=owner,
    )  # fmt: skip
    whole = work.take_in_lump(number="42", mass_mg=7 * KILO, paid_micro=coins("57.19"), at=AT, by=owner)
    given = work.take_in_lump(
        number="43", mass_mg=3 * KILO, how="gift", market_value_micro=coins("38.41"), at=AT, by=owner
    )
    client = people.add_client(name="Orla Finch", email="orla@finch.example", by=owner, at=AT)
    theirs = work.take_in_clients_wood(owner=client, number="44", mass_mg=5 * KILO, at=AT, by=owner)
    blanks = work.cut(
        parent=lump,
        blanks=[work.BlankSpec(weight=mass, mass_mg=mass) for mass in (3 * KILO, 2 * KILO, 4 * KILO, 3 * KILO)],
        at=day(1), by=owner,
    )  # fmt: skip
    work.add_wood_bill(purchase=lump.purchase, amount_micro=coins("6.83"), what="carriage", at=day(2), by=owner)
    return {
        "lump": lump, "whole": whole, "given": given, "client": client, "theirs": theirs, "blanks": blanks,
        "purchase": lump.purchase,
    }  # fmt: skip


def _work(small: SmallStudio, owner: User) -> dict[str, Any]:
    first, second, third, fourth = small.blanks
    maker = small.people["maker"]
    for number, mass in enumerate((2900, 2700, 2620, 2610)):
        work.weigh(
            workpiece=first, mass_mg=mass * GRAM, at=day(2, number * 6), condition="oven", by=maker, now=day(40)
        )
    ended = work.load_up(
        machine=small.oven, purpose="dry", workpieces=[first, second], set_point_mdegc=103_000, at=day(2), by=maker,
        confirm=True,
    )  # fmt: skip
    work.unload(load=ended, at=day(3), by=maker, hands_on_s=900)
    hours = work.add_hours(person=maker, workpieces=[first, second], code="clean", seconds=5400, at=day(3), by=maker)
    run = work.start_stabilizing(bath=small.bath, dry=[(second, 1_500 * GRAM)], at=day(4), by=maker)
    work.record_drained(run=run, weights={second.pk: 2_600 * GRAM}, at=day(5), by=maker)
    work.finish_stabilizing(run=run, baked={second.pk: 2_400 * GRAM}, at=day(6), by=maker)
    work.cast_all_the_same(workpiece=first, words="an offcut of it held", at=day(6, 20), by=maker, now=day(40))
    fill = work.Fill(planned_mg=1_600 * GRAM, blanks=[first], mould=small.mould, wood_mg=1_400 * GRAM)
    poured = work.pour(
        wood_sure=True,
        system=small.resin, fills=[fill], planned_a_mg=800 * GRAM, planned_b_mg=800 * GRAM,
        poured_a_mg=803 * GRAM, poured_b_mg=803 * GRAM, colour_words="slate blue",
        colorants=[work.ColourIn(small.blue, 10 * GRAM)], at=day(7), by=maker,
    )  # fmt: skip
    work.demould(pour=poured, at=day(8), by=maker)
    work.add_hours(person=owner, workpieces=[first], code="turn", seconds=7 * 3600, at=day(9), by=owner)
    work.add_hours(person=maker, workpieces=[third], code="rough", seconds=3600, at=day(9), by=maker)
    loss = work.it_broke(workpiece=third, cause="catch", at=day(9, 2), by=maker)
    saved = work.salvage(loss=loss, kept_wood_mg=1_000 * GRAM, wood_was_mg=4_000 * GRAM, at=day(10), by=maker)
    running = work.load_up(
        machine=small.oven, purpose="dry", workpieces=[fourth], set_point_mdegc=103_000, at=day(20), by=maker,
        confirm=True,
    )  # fmt: skip
    clock = work.start_clock(person=maker, workpieces=[second], code="sand", at=day(21))
    return {
        "casting": first, "pour": poured, "loss": loss, "saved": saved, "load": running, "load_ended": ended,
        "stabilizing": run, "clock": clock, "hours": hours, "picture": _picture(owner),
    }  # fmt: skip


def _picture(owner: User) -> Any:
    from PIL import Image

    held = io.BytesIO()
    Image.new("RGB", (60, 40), (120, 90, 60)).save(held, "JPEG")
    return pictures.take(file=ContentFile(held.getvalue(), "bowl.jpg"), by=owner, at=AT)


def finished(small: SmallStudio, workpiece: Workpiece, title: str, asking: str, at: datetime) -> Piece:
    owner = small.owner
    piece = pieces.become_piece(workpiece=workpiece, title=title, form="bowl", at=at, by=owner)
    pieces.measure(
        piece=piece, height_um=80 * MM, diameter_um=190 * MM, mass_mg=900 * GRAM, at=at, by=owner, sure=True
    )
    pieces.sign(piece=piece, with_what="burned with a wire", at=at, by=owner)
    pieces.photograph(piece=piece, picture=small.picture, at=at, by=owner, on_card=True)
    piece = pieces.rest(piece=piece, at=at, by=owner)
    pieces.set_asking_price(piece=piece, amount_micro=coins(asking), reason="like the last", at=at, by=owner)
    return piece


def _finish(small: SmallStudio, owner: User) -> dict[str, Any]:
    """A finish of three lines; the last blank is on it, sanded, with its coat to come."""
    coat = work.LineSpec("coat", material=small.oil, spread_mgm2=60_000, wait_s=86_400, latest_s=172_800, oily=True)
    lines = [work.LineSpec("sand", grit=240), coat, work.LineSpec("buff"), work.LineSpec("cure", wait_s=86_400)]
    finish = work.keep_schedule(name="Hardening oil, one coat", lines=lines, at=day(18), by=owner)
    (run,) = work.put_on_finish(schedule=finish, workpieces=[small.blanks[3]], at=day(18), by=owner)
    sand, oil, *_ = finish.lines.select_related("material__commodity").order_by("position")
    work.do_line(run=run, line=sand, at=day(19), by=small.people["maker"])
    return {"finish": finish, "finish_run": run, "finish_coat": oil}


def _pieces(small: SmallStudio, owner: User) -> dict[str, Any]:
    ready = finished(small, small.casting, "Tide bowl", "730.00", day(12))
    away = finished(small, _lump(owner, "51", "63.77"), "Keel dish", "410.00", day(13))
    sold = finished(small, _lump(owner, "52", "71.23"), "Salt jar", "390.00", day(13))
    ordered = finished(small, _lump(owner, "53", "44.69"), "Lamp stone", "520.00", day(14))
    unfinished = pieces.become_piece(
        workpiece=_lump(owner, "54", "39.07"), title="Ferry cup", form="goblet", at=day(15), by=owner
    )
    gift = finished(small, _lump(owner, "55", "29.83"), "Float box", "150.00", day(15))
    pieces.let_go(piece=gift, how="gift", words="a birthday", at=day(16), by=owner)
    return {
        "piece": ready, "away": away, "sold": sold, "ordered": ordered, "unfinished": unfinished, "gift": gift,
    }  # fmt: skip


def _lump(owner: User, number: str, paid: str) -> Workpiece:
    return work.take_in_lump(number=number, mass_mg=2 * KILO, paid_micro=coins(paid), at=AT, by=owner)


def _selling(small: SmallStudio, owner: User) -> dict[str, Any]:
    gallery = selling.add_gallery(name="Harbour Rooms", share_ppm=450_000, days_to_pay=30, at=AT, by=owner)
    for piece in (small.away, small.sold):
        selling.leave_with(pieces=[piece], gallery=gallery, at=day(17), by=owner)
    sale = selling.sell(piece=small.sold, price_micro=coins("389.00"), gallery=gallery, at=day(18), by=owner)
    payment = selling.record_payment(gallery=gallery, amount_micro=coins("100.00"), at=day(25), by=owner)
    return {"gallery": gallery, "sale": sale, "payment": payment}


def _commissions(small: SmallStudio, owner: User) -> dict[str, Any]:
    made = commissions.ask(client=small.client, wanted="A stone that gives light", at=day(10), by=owner)
    made = commissions.agree(
        commission=made, price_micro=coins("523.00"), by_on=date(2025, 7, 1), at=day(11), by=owner
    )
    commissions.take_deposit(commission=made, amount_micro=coins("173.00"), at=day(11), by=owner)
    commissions.reserve(commission=made, workpieces=[small.ordered.workpiece], at=day(19), by=owner)
    asked = commissions.ask(client=small.client, wanted="Something for a shelf", at=day(12), by=owner)
    return {"commission": made, "asked": asked}
