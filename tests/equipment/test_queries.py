"""Lists ask the database the same number of times at 10 rows and at 1,000."""

from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.equipment import operations, queries
from studio.equipment.models import Load, LoadPlace, Machine, Mould
from studio.ledger.accounts import Account, Kind
from tests.equipment.conftest import BEGAN, HOUR

NOW = BEGAN + 10_000 * HOUR


def fill(owner, count):
    """So many ovens, each with an ended and a running load of one workpiece."""
    first = Machine.objects.count()
    ovens = [
        Machine(
            kind="oven",
            name=f"Oven {first + n}",
            name_search=f"oven {first + n}",
            power_w=1000,
            added_by=owner,
            added_at=BEGAN,
        )
        for n in range(count)
    ]
    ovens = Machine.objects.bulk_create(ovens)
    Mould.objects.bulk_create(
        Mould(
            name=oven.name,
            name_search=oven.name_search,
            shape="measured",
            fill_mm3=1000,
            added_by=owner,
            added_at=BEGAN,
        )
        for oven in ovens
    )
    accounts = Account.objects.bulk_create([Account(kind=Kind.WORKPIECE) for _ in ovens])
    common = {"purpose": "dry", "step": "dry", "started_by": owner}
    ended = Load.objects.bulk_create(
        Load(machine=oven, started_at=BEGAN, ended_at=BEGAN + HOUR, **common) for oven in ovens
    )
    running = Load.objects.bulk_create(
        Load(machine=oven, started_at=BEGAN + 2 * HOUR, not_before=BEGAN + 9 * HOUR, **common) for oven in ovens
    )
    LoadPlace.objects.bulk_create(
        LoadPlace(
            load=load,
            account=account,
            weight=1,
            put_in_at=load.started_at,
            put_in_by=owner,
            out_at=load.ended_at,
            out_why="ended" if load.ended_at else "",
        )
        for loads in (ended, running)
        for load, account in zip(loads, accounts, strict=True)
    )


def read(name):
    accounts = list(Account.objects.values_list("pk", flat=True))
    some = Machine.objects.first()
    if name == "machines":
        assert all(row.run_s == 3600 and row.inside == 1 and row.running for row in queries.machines())
    elif name == "hourly_costs":
        assert queries.hourly_costs(Machine.objects.all(), BEGAN.date())[some.pk].energy_micro == 300_000
    elif name == "running_loads":
        assert all(place.account.kind for load in queries.running_loads() for place in load.places.all())
    elif name == "diary":
        assert [len(load.places.all()) for load in queries.diary(some)] == [1, 1]
    elif name == "inside_now":
        assert all(place.load.machine.name for place in queries.inside_now(accounts).values())
    elif name == "places_of":
        assert {len(rows) for rows in queries.places_of(accounts).values()} == {2}
    elif name == "moulds":
        assert all(mould.fill_mm3 for mould in queries.moulds())
    elif name == "waits":
        assert len(queries.waits(NOW)) == Machine.objects.count()
    else:
        raise AssertionError(name)


READS = (
    "machines",
    "hourly_costs",
    "running_loads",
    "diary",
    "inside_now",
    "places_of",
    "moulds",
    "waits",
)


def asked() -> dict[str, int]:
    found = {}
    for name in READS:
        with CaptureQueriesContext(connection) as seen:
            read(name)
        found[name] = len(seen)
    return found


def test_lists_ask_as_often_at_a_thousand_rows_as_at_ten(owner):
    fill(owner, 10)
    few = asked()
    fill(owner, 990)
    assert asked() == few


def test_one_load_is_read_with_its_places(owner, oven, blanks, django_assert_num_queries):
    load = operations.start_load(
        machine=oven, purpose="dry", at=BEGAN, by=owner, places=[(blanks(1)[0], None)], now=NOW
    )
    with django_assert_num_queries(2):
        found = queries.load(load.pk)
        assert found.machine.name == "The brick oven"
        assert len(found.places.all()) == 1
    assert queries.load(load.pk + 1) is None
