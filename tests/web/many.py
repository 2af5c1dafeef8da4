"""So many rows of everything in the small studio, for counting what a page asks of the database: rows only.

Whole histories are told again by what `manage.py bench` multiplies a studio with. Beside them, all that one thing can
have many of (weighings of a workpiece, batches of a material, pieces at a gallery …) comes to the very things that
`tests/web/addresses.py` opens.
"""

import secrets
from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from django.db import connection
from django.db.models import Max

from studio.commissions.models import Commission, CommissionEvent
from studio.config.bench import grow
from studio.equipment.models import LoadPlace, Upkeep, UpkeepDone
from studio.ledger import operations as ledger
from studio.ledger.accounts import Account, Component, Kind, pool
from studio.ledger.journal import BooksClosed, Entry, Line
from studio.people.models import DatedSetting, Role, WageRate
from studio.pieces.models import AskingPrice, Piece, PiecePart, PiecePicture
from studio.selling.models import GalleryTerms, Payment, Placement
from studio.stores import operations as stores
from studio.stores.models import Batch, Count, Filling, LateBill, WriteOff
from studio.wood.models import Bill, Purchase, PurchasePicture
from studio.work.models import (
    ClockRun,
    ClockShare,
    Descent,
    FinishDone,
    FinishLine,
    FinishRun,
    LossPicture,
    Mount,
    PourColorant,
    PourFill,
    StabilizingItem,
    Step,
    StepCode,
    UsualMinutes,
    Weighing,
    Workpiece,
    WorkpiecePicture,
)
from tests.web.small_studio import DAY, FIRST, GRAM, SmallStudio, coins, day

Said = Callable[[int], Any]
PIECES_TOLD, HISTORIES = 6, 20  # pieces in the small studio itself, and how often it is told again at most


def again(row: Any, count: int, **said: Any) -> range:
    """`row` so many times more; the keys of the new rows. What is named is said anew: a value, or what a function
    makes of the number. Written straight into the table: a thousand rows of every kind are soon 200,000."""
    model = type(row)
    if row.pk is not None:
        row = model.objects.get(pk=row.pk)  # as it stands now
    first = (model.objects.aggregate(newest=Max("pk"))["newest"] or 0) + 1
    columns: list[Said] = []
    for field in model._meta.concrete_fields:
        value = said.get(field.name, getattr(row, field.attname))
        if field.primary_key:
            columns.append(lambda number: first - 1 + number)
        elif callable(value):
            columns.append(lambda number, field=field, value=value: field.get_db_prep_save(value(number), connection))
        else:
            value = field.get_db_prep_save(getattr(value, "pk", value), connection)
            columns.append(lambda number, value=value: value)
    names = ", ".join(f'"{field.column}"' for field in model._meta.concrete_fields)
    places = ", ".join(["%s"] * len(columns))
    with connection.cursor() as cursor:
        rows = [[column(number) for column in columns] for number in range(1, count + 1)]
        cursor.executemany(f'INSERT INTO "{model._meta.db_table}" ({names}) VALUES ({places})', rows)
    return range(first, first + count)


def each(rows: Sequence[Any]) -> Said:
    """The rows, each in its turn."""
    return lambda number: rows[(number - 1) % len(rows)]


def named(words: str) -> Said:
    return lambda number: f"{words}{number}"


def on(number: int) -> date:
    return FIRST - number * DAY


def moment(number: int) -> datetime:
    return day(25) + timedelta(minutes=number)


def any_word(_: int) -> str:
    return secrets.token_hex(16)


class Many:
    """So many rows of everything, one after the other, on the small studio."""

    def __init__(self, small: SmallStudio, count: int) -> None:
        self.small, self.count, self.owner, self.maker = small, count, small.owner, small.people["maker"]
        self.did = {"at": day(24), "by": small.owner}
        self.accounts: dict[range, range] = {}  # of so many workpieces
        self.full = (small.blanks[3], small.casting)  # what `addresses` opens as a workpiece, and as a piece

    def tell(self) -> None:
        small = self.small
        Workpiece.objects.filter(purchase=small.purchase).update(species=small.species)
        Purchase.objects.filter(pk=small.purchase.pk).update(species=small.species, supplier=small.supplier)
        booked = [entry for piece in self.full for entry in self.posted(piece)]
        grow.grow_to(PIECES_TOLD * min(self.count, HISTORIES))
        for entry in booked:
            self.entries(entry)
        self.pictures = self.again(small.picture, name=any_word, sha256=any_word)
        self.people_and_wood()
        self.stores()
        self.bench()
        self.machines()
        self.pieces()
        self.selling()
        self.books()

    def again(self, row: Any, **said: Any) -> range:
        return again(row, self.count, **said)

    def entries(self, pk: int) -> None:
        """An entry with its lines so many times more."""
        made = self.again(Entry.objects.get(pk=pk), reverses=None, submission=None)
        for line in Line.objects.filter(entry_id=pk):
            self.again(line, entry=each(made))

    def posted(self, piece: Workpiece) -> list[int]:
        """An hour on a workpiece, and a little oil."""
        when: dict[str, Any] = {"at": day(20), "by": self.owner}
        hours = ledger.charge(
            account=piece.account, values={Component.OWN_LABOUR: coins("3.00")},
            against={Component.OWN_LABOUR: Kind.OWN_LABOUR}, kind="hours", step="clean", **when,
        )  # fmt: skip
        used = stores.draw(material=self.small.oil, amount=GRAM, shares=[(piece.account, 1)], **when)
        return [hours.entry_id, used.entry_id]

    def people_and_wood(self) -> None:
        small = self.small
        self.people = self.again(
            self.maker, username=named("maker"), display_name=named("Maker "), role=each(list(Role))
        )
        self.again(WageRate.objects.filter(person=self.maker).first(), from_on=on)
        self.again(DatedSetting.objects.filter(key="tariff_micro").first(), from_on=on)
        self.clients = self.again(small.client, name=named("Client "), name_search=named("client "))
        self.again(small.supplier, name=named("Supplier "), name_search=named("supplier "))
        self.again(small.species, common_name=named("Ash "), own=True)
        self.again(small.purchase)
        self.again(Bill(purchase=small.purchase, amount_micro=coins("1.00"), what="carriage", on=FIRST, **self.did))
        self.again(PurchasePicture(purchase=small.purchase, **self.did), picture=each(self.pictures))
        self.again(small.job)

    def stores(self) -> None:
        small, batch = self.small, self.small.part_a_batch
        measures = self.again(small.part_a.commodity)
        self.again(small.part_a, name=named("Dye "), name_search=named("dye "), commodity=each(measures))
        for row in (batch, small.soak_batch, small.oil_batch):
            accounts = self.again(row.account)
            first = Batch.objects.order_by("-number").values_list("number", flat=True)[0]
            self.again(row, account=each(accounts), number=range(first, first + 9999).__getitem__)
        self.again(small.resin, name=named("Resin "))
        filled = Filling.objects.get(bath=small.bath)
        self.again(small.bath, name=named("Bath "), account=each(self.again(small.bath.account)))
        for entry in (batch.entry_id, small.pour.entry_id, filled.entry_id):
            self.entries(entry)
        amounts = {"was_amount": 5 * GRAM, "counted_amount": 4 * GRAM, **self.did}
        self.again(Count(material=small.part_a, batch=batch, **amounts))
        self.again(Count(material=small.soak, bath=small.bath, **amounts))
        for what in ({"batch": batch}, {"bath": small.bath}):
            self.again(WriteOff(amount=GRAM, value_micro=coins("1.00"), why="spilt", **what, **self.did))
        self.again(LateBill(batch=batch, value_micro=coins("1.00"), **self.did))
        self.again(filled)

    def workpieces(self, like: Workpiece, **said: Any) -> range:
        word = secrets.token_hex(3)
        accounts = self.again(like.account)
        new = {"number": named(f"{word}/"), "sort_key": named(word), "species": self.small.species}
        made = self.again(like, account=each(accounts), **new, **said)
        self.accounts[made] = accounts
        return made

    def bench(self) -> None:
        small = self.small
        like, lost = small.blanks[3], small.blanks[2]
        self.lying = self.workpieces(like)
        self.workpieces(like, lost_number=True, hold_reason="kept", hold_ref=small.commission.ref)
        self.workpieces(small.theirs)
        self.again(small.loss, workpiece=each(self.workpieces(lost)))
        self.again(LossPicture(loss=small.loss, **self.did), picture=each(self.pictures))
        self.again(Step(position=1), workpiece=each(self.lying), code=each(list(StepCode)))
        self.runs = [self.again(row) for row in (small.load_ended, small.stabilizing)]
        for piece in self.full:
            self.fill(piece)
        self.finishes()
        came = self.workpieces(like)
        for parent in (small.lump, lost, *self.full):
            self.again(Descent(parent=parent, how="salvage", share_ppm=0, at=day(2)), child=each(came))

    def finishes(self) -> None:
        """Of finishes and of work on them there may be many; of lines to one of them only a few."""
        small = self.small
        kept = self.again(small.finish, name=named("Oil "))
        self.again(FinishLine(kind="coat", material=small.oil, position=1), schedule=each(kept))
        runs = self.again(FinishRun(schedule=small.finish, started_at=day(18)), workpiece=each(self.lying))
        self.again(FinishDone(line=small.finish_coat, at=day(19), taken_back_at=day(20)), run=each(runs))
        self.again(FinishDone(run=small.finish_run, line=small.finish_coat, at=day(19), taken_back_at=day(20)))
        self.again(FinishRun(workpiece=small.casting, schedule=small.finish, started_at=day(18), ended_at=day(19)))

    def fill(self, piece: Workpiece) -> None:
        """All that one workpiece can have much of."""
        small, its = self.small, {"workpiece": piece}
        self.again(Weighing(mass_mg=GRAM, condition="oven", **its), at=moment)
        self.again(Mount(how="tenon", across_um=200_000, **its, **self.did))
        self.again(Step(code="season", state="done", position=2, **its), attempt=lambda number: number + 1)
        self.again(WorkpiecePicture(**its, **self.did), picture=each(self.pictures))
        self.again(Descent(child=piece, how="join", share_ppm=0, at=day(2)), parent=each(self.lying))
        self.again(PourFill(pour=small.pour, casting=piece, planned_mg=GRAM, share_mg=GRAM))
        run = ClockRun(person=self.maker, code="sand", started_at=day(25), stopped_at=day(26), seconds=60)
        self.again(ClockShare(seconds=60, **its), run=each(self.again(run)))
        loads, baths = self.runs
        place = LoadPlace(account=piece.account, weight=1, put_in_at=day(2), put_in_by=self.maker, out_why="ended")
        self.again(place, load=each(loads), out_at=day(3))
        self.again(StabilizingItem(dry_mg=GRAM, **its), stabilizing=each(baths))

    def machines(self) -> None:
        small, lying = self.small, each(self.lying)
        ovens = self.again(small.oven, name=named("Oven "), name_search=named("oven "))
        self.again(small.mould, name=named("Mould "), name_search=named("mould "))
        inside = self.workpieces(small.blanks[3])
        place = small.load.places.get()
        self.again(place, account=each(self.accounts[inside]))
        loads = self.again(small.load, machine=each(ovens))
        self.again(place, load=each(loads), account=each(self.accounts[self.lying]))
        self.again(PourFill(pour=small.pour, planned_mg=GRAM, share_mg=GRAM), casting=lying)
        self.again(PourColorant(pour=small.pour, material=small.blue, mass_mg=GRAM))
        pours = self.again(small.pour, demoulded_at=None)
        self.again(PourFill(planned_mg=GRAM, share_mg=GRAM), pour=each(pours), casting=each(inside))
        self.again(StabilizingItem(stabilizing=small.stabilizing, dry_mg=GRAM), workpiece=lying)
        wants = Upkeep(every_s=86_400, run_s=3600, began_at=day(2))
        self.again(wants, machine=small.oven, what=named("Grease bearing "))
        self.again(wants, machine=each(ovens), what="Grease the bearing")
        self.again(UpkeepDone(upkeep=small.oven.upkeep.first(), words="as it was", **self.did))
        run = ClockRun(code="sand", started_at=day(25))
        self.again(ClockShare(), run=each(self.again(run, person=each(self.people))), workpiece=lying)
        self.again(UsualMinutes(code="sand", seconds=60), person=each(self.people))

    def made(self, like: Piece, **said: Any) -> range:
        """So many pieces more, each of a workpiece of its own."""
        rows = self.workpieces(like.workpiece, stage="piece", title=named("Bowl "), **said)
        new = {"signed_number": any_word, "public_token": any_word, "allowance_entry": None}
        pieces = self.again(like, workpiece=each(rows), **new)
        self.again(AskingPrice(amount_micro=coins("90.00"), lowest_micro=0, **self.did), piece=each(pieces))
        return pieces

    def pieces(self) -> None:
        small = self.small
        self.shelf = self.made(small.piece)
        self.made(small.gift)
        self.again(AskingPrice(piece=small.piece, amount_micro=coins("90.00"), lowest_micro=0, **self.did))
        self.again(PiecePicture(piece=small.piece, **self.did), picture=each(self.pictures))
        self.again(PiecePart(piece=small.piece, position=1), workpiece=each(self.lying))
        self.again(small.away.placements.get(), piece=small.piece, back_at=day(25), back_on=FIRST, back_why="rested")

    def selling(self) -> None:
        small, stood = self.small, Placement.objects.get(sale=self.small.sale)
        others = self.again(
            small.gallery, name=named("Rooms "), name_search=named("rooms "),
            account=each(self.again(small.gallery.account)),
        )  # fmt: skip
        standing = small.away.placements.get()
        self.again(standing, piece=each(self.made(small.away)))
        self.again(standing, piece=each(self.shelf), gallery=each(others))
        sold = self.made(small.sold)
        self.again(small.sale, piece=each(sold), placement=each(self.again(stood, piece=each(sold))))
        bought = self.made(small.sold)
        self.again(small.sale, piece=each(bought), placement=None, gallery=None, client=small.client)
        self.again(small.payment)
        self.again(
            Payment(client=small.client, amount_micro=coins("1.00"), on=FIRST, entry_id=small.entry, **self.did)
        )
        self.again(GalleryTerms.objects.get(gallery=small.gallery), from_on=on)
        first = Commission.objects.order_by("-number").values_list("number", flat=True)[0]
        deposits = [self.again(Account(kind=Kind.DEPOSIT)) for _ in range(2)]
        orders = self.again(
            small.commission, number=range(first, first + 9999).__getitem__, deposit_account=each(deposits[0])
        )
        self.made(small.unfinished, hold_ref=lambda number: f"commission:{orders[number - 1]}")
        self.again(CommissionEvent(commission=small.commission, what="changed", **self.did))
        ended = {"state": "called_off", "ended_at": day(25), "number": range(first + 9999, first + 19999).__getitem__}
        self.again(small.commission, deposit_account=each(deposits[1]), **ended)

    def books(self) -> None:
        self.again(BooksClosed(until=FIRST - 900 * DAY, **self.did))
        entry = Entry.objects.get(pk=self.small.pour.entry_id)
        line = Line(entry=entry, component=Component.OVERHEAD, value_micro=1)
        self.again(line, account=each(self.accounts[self.lying]))
        again(line, 1, account=pool(Kind.OVERHEAD), value_micro=-self.count)
