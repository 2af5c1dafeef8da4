from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import IntegrityError, connection, models, transaction
from django.db.models import F, Value
from django.db.models.functions import Cast

from studio.fields.whole import LIMIT, NotWhole, WholeField, whole_checks


class Plank(models.Model):
    """A table of the test's own: one column guarded by both, one by neither."""

    grams = WholeField(default=0)
    plain = models.BigIntegerField(default=0)

    class Meta:
        app_label = "tests"
        constraints = whole_checks("plank", "grams", at_least=-5)


@pytest.fixture
def planks(db: None) -> type[Plank]:
    from django.db import connection as here

    statements = here.schema_editor(collect_sql=True, atomic=False)
    statements.deferred_sql = []
    with here.cursor() as cursor:
        sql, params = statements.table_sql(Plank)
        cursor.execute(sql, params or None)
    return Plank


@pytest.mark.parametrize("odd", [1.0, 1.99, Decimal("1.99"), Decimal(2), "7", True, Fraction(1, 2)])
def test_only_an_int_is_stored(planks: type[Plank], odd: object) -> None:
    for store in (
        lambda: planks.objects.create(grams=odd),
        lambda: planks.objects.bulk_create([planks(grams=odd)]),
        lambda: planks.objects.update(grams=odd),
        lambda: planks.objects.filter(grams=odd).count(),
    ):
        with pytest.raises(NotWhole), transaction.atomic():
            store()
    assert not planks.objects.exists()


def test_djangos_own_column_cuts_a_gram_short_without_a_word(planks: type[Plank]) -> None:
    """The control: what the guarded column refuses, the plain one swallows."""
    plank = planks.objects.create(plain=Decimal("1.99"))
    plank.refresh_from_db()
    assert plank.plain == 1


@pytest.mark.parametrize("odd", [Decimal("2.5"), 0.5])
@pytest.mark.parametrize("how", [lambda odd: F("grams") - odd, lambda odd: F("grams") * Value(odd), Value])
def test_no_fraction_hides_in_an_expression(planks: type[Plank], how, odd: object) -> None:  # type: ignore[no-untyped-def]
    plank = planks.objects.create(grams=100)
    with pytest.raises(NotWhole), transaction.atomic():
        planks.objects.update(grams=how(odd))
    plank.grams = how(odd)
    with pytest.raises(NotWhole), transaction.atomic():
        plank.save()
    assert planks.objects.get().grams == 100


def test_whole_numbers_in_an_expression_are_whole(planks: type[Plank]) -> None:
    planks.objects.create(grams=100)
    planks.objects.update(grams=F("grams") - 25)
    assert planks.objects.get().grams == 75


@pytest.mark.parametrize("odd", ["1.5", "'abc'", "''", "x'00'"])
def test_the_database_itself_refuses_what_is_no_integer(planks: type[Plank], odd: str) -> None:
    """On PostgreSQL the column's type does; SQLite would store it, and its own cast gives it away."""
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL has integer columns")
    with connection.cursor() as cursor:
        cursor.execute(f"INSERT INTO tests_plank (grams, plain) VALUES (0, {odd})")
        with pytest.raises(IntegrityError), transaction.atomic():
            cursor.execute(f"INSERT INTO tests_plank (grams, plain) VALUES ({odd}, 0)")


@pytest.mark.parametrize(("grams", "fits"), [(LIMIT, True), (LIMIT + 1, False), (-5, True), (-6, False)])
def test_the_database_itself_keeps_the_bounds(planks: type[Plank], grams: int, fits: bool) -> None:
    if fits:
        assert planks.objects.create(grams=grams).pk
        return
    with pytest.raises(IntegrityError), transaction.atomic():
        planks.objects.create(grams=grams)


def test_without_a_lower_bound_the_limit_holds_both_ways() -> None:
    (check,) = whole_checks("plank", "grams")
    assert check.name == "plank_grams_whole"
    assert dict(check.condition.children)["grams__gte"] == -LIMIT


def test_sums_are_exact_where_floats_are_not(planks: type[Plank]) -> None:
    planks.objects.bulk_create([planks(grams=LIMIT - 1), *(planks(grams=1) for _ in range(1000))])
    total = planks.objects.aggregate(total=models.Sum("grams"))["total"]
    assert total == LIMIT + 999
    assert type(int(total)) is int
    assert (
        planks.objects.annotate(same=Cast("grams", models.BigIntegerField())).filter(same=F("grams")).count() == 1001
    )
