"""Reading the stores: what there is, how much resin it makes, what ages, what runs short."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from studio.craft.waits import Wait
from studio.ledger.accounts import Component, Measure
from studio.ledger.operations import Draw
from studio.people import settings as studio_settings
from studio.stores.errors import amount_words
from studio.stores.models import (
    COMPONENT_OF,
    Batch,
    Bath,
    Material,
    MaterialKind,
    ResinSystem,
)
from studio.stores.planning import FromBatch, in_order, plan, stock_of

AGEING_DAYS = 14


@dataclass(frozen=True)
class BatchRow:
    """One batch as a page shows it. Value is None where costs weren't asked for."""

    batch: Batch
    left: int
    value_micro: int | None
    use_by: date | None
    past: bool
    ageing: bool


@dataclass(frozen=True)
class MaterialRow:
    """One material: what is fit for use, what is past its day, what it cost, what to mind."""

    material: Material
    left: int
    past: int
    value_micro: int | None
    batches: tuple[BatchRow, ...]
    below_reorder: bool

    @property
    def opened(self) -> tuple[BatchRow, ...]:
        return tuple(row for row in self.batches if row.batch.opened_on)

    @property
    def ageing(self) -> tuple[BatchRow, ...]:
        """Batches past their day, or within a fortnight of it."""
        return tuple(row for row in self.batches if row.ageing or row.past)


@dataclass(frozen=True)
class Mix:
    """How much mixed resin the stores make of one system; `scarcer` says which part decides: a, b, or none."""

    system: ResinSystem
    mixed_mg: int
    left_a_mg: int
    left_b_mg: int
    scarcer: str


@dataclass(frozen=True)
class BathRow:
    bath: Bath
    left: int
    value_micro: int | None


@dataclass(frozen=True)
class StoresPage:
    materials: tuple[MaterialRow, ...]
    mixes: tuple[Mix, ...]
    baths: tuple[BathRow, ...]
    value_micro: int | None


@dataclass(frozen=True)
class CommodityName:
    """What the stores call a commodity of the journal, for pages that show amounts of it."""

    material_id: int
    name: str
    kind: str
    kind_words: str
    component: Component
    counted: bool


def stores_page(on: date, *, search: str = "", costs: bool = True) -> StoresPage:
    """Everything the stores page shows on a day. Four queries however much there is.

    Without `costs` no cost is read from the database at all, so that none can slip onto the page.
    """
    materials = list(Material.objects.in_use().matching(search).select_related("commodity"))
    by_material = _batches_by_material(materials, on, costs)
    rows = tuple(_material_row(material, by_material[material.pk], costs) for material in materials)
    baths = tuple(
        BathRow(bath, bath.account.amount, bath.account.value_micro if costs else None) for bath in _baths(costs)
    )
    value = None
    if costs:
        value = sum(row.value_micro or 0 for row in rows) + sum(row.value_micro or 0 for row in baths)
    return StoresPage(rows, tuple(_mixes(rows)), baths, value)


def _baths(costs: bool) -> list[Bath]:
    rows = Bath.objects.filter(closed_on=None).select_related("material__commodity", "account")
    return list(rows if costs else rows.defer("account__value_micro"))


def _batches_by_material(materials: Sequence[Material], on: date, costs: bool) -> dict[int, list[BatchRow]]:
    batches = Batch.objects.filter(material__in=materials).with_something_left().select_related("account")
    if not costs:
        batches = batches.defer("account__value_micro", "paid_micro", "carriage_micro", "late_micro")
    known = {material.pk: material for material in materials}
    found: dict[int, list[Batch]] = defaultdict(list)
    for batch in batches:
        batch.material = known[batch.material_id]
        found[batch.material_id].append(batch)
    rows: dict[int, list[BatchRow]] = defaultdict(list)
    for pk, mine in found.items():
        rows[pk] = [_batch_row(batch, on, costs) for batch in in_order(mine, on)]
    return rows


def _batch_row(batch: Batch, on: date, costs: bool) -> BatchRow:
    last = batch.use_by_on(on)
    past = last is not None and last < on
    return BatchRow(
        batch,
        batch.account.amount,
        batch.account.value_micro if costs else None,
        last,
        past,
        last is not None and not past and last <= on + timedelta(days=AGEING_DAYS),
    )


def _material_row(material: Material, batches: Sequence[BatchRow], costs: bool) -> MaterialRow:
    left = sum(row.left for row in batches if not row.past)
    past = sum(row.left for row in batches if row.past)
    value = sum(row.value_micro or 0 for row in batches) if costs else None
    below = material.reorder_level is not None and left < material.reorder_level
    return MaterialRow(material, left, past, value, tuple(batches), below)


def _mixes(rows: Iterable[MaterialRow]) -> list[Mix]:
    left = {row.material.pk: row.left for row in rows}
    systems = ResinSystem.objects.filter(archived=False)
    return [
        _mix(system, left[system.part_a_id], left[system.part_b_id])
        for system in systems
        if system.part_a_id in left and system.part_b_id in left
    ]


def _mix(system: ResinSystem, left_a: int, left_b: int) -> Mix:
    """The scarcer part decides: what is left of it over its parts, times all parts; rounded down."""
    by_a, by_b = left_a * system.parts_b, left_b * system.parts_a
    whole = system.parts_a + system.parts_b
    if by_a <= by_b:
        mixed, scarcer = left_a * whole // system.parts_a, "a" if by_a < by_b else ""
    else:
        mixed, scarcer = left_b * whole // system.parts_b, "b"
    return Mix(system, mixed, left_a, left_b, scarcer)


def mixable(system: ResinSystem, on: date) -> int:
    """How much mixed resin (milligrams) the stores make of this system on a day, past batches left out."""
    return mix(system, on).mixed_mg


def mix(system: ResinSystem, on: date) -> Mix:
    """As `mixable`, with what is left of each part and which of them decides. One query."""
    left = {system.part_a_id: 0, system.part_b_id: 0}
    batches = Batch.objects.filter(material__in=left).with_something_left().with_material()
    for batch in batches.defer("account__value_micro", "paid_micro", "carriage_micro", "late_micro"):
        if batch.received_on <= on and not batch.past(on):
            left[batch.material_id] += batch.account.amount
    return _mix(system, left[system.part_a_id], left[system.part_b_id])


def materials(*, kinds: Iterable[str] | None = None, search: str = "") -> list[Material]:
    """Materials in use, for choices in a form. One query."""
    rows = Material.objects.in_use().matching(search).select_related("commodity")
    return list(rows if kinds is None else rows.filter(kind__in=list(kinds)))


def material(pk: int) -> Material | None:
    return Material.objects.select_related("commodity").filter(pk=pk).first()


def material_row(pk: int, on: date, *, costs: bool = True) -> MaterialRow | None:
    """One material as the stores page shows it. Two queries."""
    row = material(pk)
    if row is None:
        return None
    return _material_row(row, _batches_by_material([row], on, costs)[row.pk], costs)


def resin_systems() -> list[ResinSystem]:
    """Casting resins in use, with their parts. One query."""
    return list(ResinSystem.objects.filter(archived=False).select_related("part_a__commodity", "part_b__commodity"))


def resin_system(pk: int) -> ResinSystem | None:
    return ResinSystem.objects.select_related("part_a__commodity", "part_b__commodity").filter(pk=pk).first()


def baths(*, costs: bool = True) -> list[BathRow]:
    """Baths that are open. One query."""
    return [BathRow(bath, bath.account.amount, bath.account.value_micro if costs else None) for bath in _baths(costs)]


def bath(pk: int, *, costs: bool = True) -> Bath | None:
    rows = Bath.objects.select_related("material__commodity", "account__commodity")
    return (rows if costs else rows.defer("account__value_micro")).filter(pk=pk).first()


def batches(material: Material, on: date, *, emptied: bool = False, costs: bool = True) -> list[BatchRow]:
    """Batches of a material in the order they are used up, with `emptied` the empty ones too. One query."""
    rows = Batch.objects.filter(material=material).select_related("account", "supplier")
    if not emptied:
        rows = rows.with_something_left()
    if not costs:
        rows = rows.defer("account__value_micro", "paid_micro", "carriage_micro", "late_micro")
    found = list(rows)
    for row in found:
        row.material = material
    return [_batch_row(row, on, costs) for row in in_order(found, on)]


def batch(pk: int, *, costs: bool = True) -> Batch | None:
    """One batch with material, account and supplier, or None; without `costs` no cost is read. One query."""
    rows = Batch.objects.with_material().select_related("supplier")
    if not costs:
        rows = rows.defer("account__value_micro", "paid_micro", "carriage_micro", "late_micro")
    return rows.filter(pk=pk).first()


def plan_draw(
    material: Material,
    amount: int,
    on: date,
    *,
    allow_past: bool = False,
    first: Batch | None = None,
) -> list[Draw]:
    """What a draw would take, in the order it takes it; nothing is held. Raises StoresRunShort. One query.

    To draw for real call `operations.lock_plan` inside the transaction that posts.
    """
    return plan([(material, amount)], stock_of([material]), on=on, allow_past=allow_past, first=first).draws


def takes_of(draws: Iterable[Draw]) -> list[FromBatch]:
    """Say which batches draws are from. One query."""
    wanted = list(draws)
    found = {
        row.account_id: row
        for row in Batch.objects.with_material().filter(account__in=[one.account.pk for one in wanted])
    }
    return [FromBatch(found[one.account.pk], one.amount, past=False) for one in wanted if one.account.pk in found]


def names_of_commodities() -> dict[int, CommodityName]:
    """What each commodity of the journal is called: {commodity id: name and kind}. One query."""
    return {
        commodity: CommodityName(
            pk, name, kind, str(MaterialKind(kind).label), COMPONENT_OF[kind], measure == Measure.COUNTED
        )
        for commodity, pk, name, kind, measure in Material.objects.values_list(
            "commodity", "pk", "name", "kind", "commodity__measure"
        )
    }


def names_of_accounts(account_ids: Iterable[int]) -> dict[int, str]:
    """What batches and baths are called on a page that shows an entry's lines. Two queries."""
    wanted = list(account_ids)
    found = {
        account: f"{name}, batch {number}"
        for account, number, name in Batch.objects.filter(account__in=wanted).values_list(
            "account", "number", "material__name"
        )
    }
    found.update(Bath.objects.filter(account__in=wanted).values_list("account", "name"))
    return found


def shortages(on: date) -> list[MaterialRow]:
    """Materials of which less than their reorder level is fit for use. Two queries."""
    rows = list(Material.objects.in_use().filter(reorder_level__isnull=False).select_related("commodity"))
    by_material = _batches_by_material(rows, on, costs=False)
    found = [_material_row(row, by_material[row.pk], costs=False) for row in rows]
    return [row for row in found if row.below_reorder]


def waits(now: datetime) -> list[Wait]:
    """What the stores ask for: batches past their day or near it, materials to order. Three queries."""
    zone = studio_settings.zone()
    on = now.astimezone(zone).date()
    materials = list(Material.objects.in_use().select_related("commodity"))
    by_material = _batches_by_material(materials, on, costs=False)
    found: list[Wait] = []
    for material in materials:
        row = _material_row(material, by_material[material.pk], costs=False)
        found += [_batch_wait(material, one, zone) for one in row.ageing]
        if row.below_reorder:
            found.append(_order_wait(row))
    return found


def _batch_wait(material: Material, row: BatchRow, zone: ZoneInfo) -> Wait:
    last = row.use_by
    assert last is not None
    about, subject = ("stores.batch", row.batch.pk), f"{material.name}, batch {row.batch.number}"
    over = datetime.combine(last + timedelta(days=1), time.min, tzinfo=zone)
    left = amount_words(material, row.left)
    if row.past:
        reason = f"past its day, {last:%d %B %Y}; {left} left"
        return Wait("stores", "throw away or use all the same", subject, "since", over, reason, about=about)
    opened = "opened, " if row.batch.opened_on else ""
    return Wait(
        "stores", "use up", subject, "by", over, f"{opened}good until {last:%d %B %Y}; {left} left", about=about
    )


def _order_wait(row: MaterialRow) -> Wait:
    level = row.material.reorder_level
    assert level is not None
    left = amount_words(row.material, row.left) if row.left else "none"
    return Wait(
        "desk",
        "order",
        row.material.name,
        "since",
        None,
        f"{left} left fit for use; you order below {amount_words(row.material, level)}",
        about=("stores.material", row.material.pk),
    )
