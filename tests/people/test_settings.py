from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.db import transaction

from studio.fields.errors import Refused
from studio.fields.formats import Formats
from studio.people import operations, queries, settings
from studio.people.models import DatedSetting, User
from studio.people.questions import GROUPS, QUESTIONS, REGISTRY
from studio.people.roles import NotAllowed

pytestmark = pytest.mark.django_db
Tell = Callable[..., DatedSetting]
DAY = date(2025, 3, 10)


@pytest.fixture
def tell(owner: User, at: datetime) -> Tell:
    def _tell(key: str, value: Any, from_on: date | None = None, by: User = owner) -> DatedSetting:
        return operations.set_setting(key=key, value=value, by=by, at=at, from_on=from_on)

    return _tell


# What each question takes and what it must not take; every question of the registry stands here.
TAKES: dict[str, tuple[Any, tuple[Any, ...]]] = {
    "studio_name": ("Ny Verksted Ø", ("", "  ", "x" * 201, "a\nb", "a\x00b", 7)),
    "maker_name": ("I. Brand", ("", None)),
    "currency": ("JPY", ("QQQ", "", "DEM", "€", None)),
    "time_zone": ("Asia/Tokyo", ("Mars/North", "", None, "../etc")),
    "number_format": ("1.234,56", ("1;2", None)),
    "length_unit": ("in", ("cm", None)),
    "temperature_unit": ("°F", ("K",)),
    "pressure_unit": ("psi", ("atm",)),
    "fluid_measures": ("imperial", ("roman",)),
    "date_style": ("month first", ("",)),
    "paper_size": ("Letter", ("A3",)),
    "altitude_m": (1620, (-451, 6001, 1.5, True)),
    "shop_temperature_mdegc": (-5_000, (60_000, "20")),
    "shop_humidity_ppm": (450_000, (-1, 1_000_001)),
    "tariff_micro": (312_500, (-1, 0.3, 10**15 + 1)),
    "overhead_year_micro": (4_800_000_000, (-1,)),
    "normal_hours_s": (900 * 3600, (0, 3599)),
    "loss_allowance_ppm": (170_000, (1_000_001,)),
    "waste_allowance_ppm": (80_000, (-1,)),
    "short_to_leftover": (19, (0, 1000)),
    "bark_share_ppm": (30_000, (-1, 1_000_001)),
    "scale_most_mg": (3_000_000, (0,)),
    "pour_hands_s": (480, (0,)),
    "pot_fill_s": (120, (0,)),
    "gallery_share_ppm": (450_000, (1_000_001, -1)),
    "card_fee_ppm": (0, (-5,)),
    "cost_to_sell_micro": (6_000_000, (-1,)),
    "sales_tax_ppm": (200_000, (1_000_001,)),
    "prices_include_tax": (True, ("yes", 1, None)),
    "signed_number_pattern": ("{yy}-{nn}", ("{number}", "no mark", "{n}{n}", "{n", "{n}" + "x" * 40)),
    "first_lump_number": (41, (0, -1, 10**7)),
    "scale_step_mg": (100, (0, 10**7)),
    "warm_up_most_mdegc": (45_000, (19_999, 100_001)),
    "thick_um": (38_000, (0, 10**9)),
    "thick_mg": (500_000, (0, 10**12)),
    "season_every_s": (14 * 86_400, (0, 10**9)),
    "cool_before_bath_s": (2 * 3600, (0, 10**9)),
    "soak_factor_ppm": (2_000_000, (-1, 10**9)),
    "lie_out_limit_s": (4 * 3600, (0, 10**9)),
    "dry_rest_ppm": (3_000, (0, 60_000)),
    "cast_moisture_ppm": (80_000, (0, 300_000)),
    "forms": (("bowl", "lantern"), ("bowl", ("bowl", "Bowl"), ["x" * 61], ["x"] * 61, [1])),
    "finishes": (("wax",), (("wax", "wax"),)),
    "care_words": ((), (["line"] * 9,)),
    "caution_words": (("Not for flame.",), ("Not for flame.",)),
    "base_url": (
        "https://studio.example/shop",
        (
            "studio.example",
            "ftp://studio.example",
            "javascript:alert(1)",
            "https://",
            "https://a:b@studio.example",
            "https://studio.example/?a=1",
            "https://studio.example/#x",
            "https://studio.example:99999",
            "https://studio example",
        ),
    ),
}


def test_every_question_is_tried_here() -> None:
    assert TAKES.keys() == REGISTRY.keys()


@pytest.mark.parametrize("key", TAKES)
def test_an_answer_comes_back_as_it_was_given(tell: Tell, key: str) -> None:
    good, _ = TAKES[key]
    tell(key, good)
    assert settings.value(key, DAY) == good
    assert type(settings.value(key, DAY)) is type(good)


@pytest.mark.parametrize("key", TAKES)
def test_a_wrong_answer_is_told_beside_its_field_and_nothing_is_stored(tell: Tell, key: str) -> None:
    before = DatedSetting.objects.count()
    for bad in TAKES[key][1]:
        with pytest.raises(Refused) as refused:
            tell(key, bad)
        assert refused.value.field == key, bad
        assert refused.value.message.endswith("."), refused.value.message
    assert DatedSetting.objects.count() == before


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda question: question.key)
def test_a_question_is_asked_in_a_sentence_and_its_default_passes_its_own_check(question: Any) -> None:
    assert question.asks.endswith("?")
    assert question.help.endswith(".")
    assert question.group in GROUPS
    for value in (question.default, question.suggestion):
        if value is not None:
            assert question.kind.clean(value) == value
            assert question.kind.from_text(question.kind.to_text(value)) == value
    if question.default is not None or question.suggestion is not None:
        assert question.whose


def test_an_unanswered_question_is_named_so_that_it_can_be_asked_now(owner: User) -> None:
    with pytest.raises(settings.MissingSetting, match="What does a kilowatt-hour cost") as missing:
        settings.value("tariff_micro", DAY)
    assert (missing.value.key, missing.value.field, missing.value.code) == (
        "tariff_micro",
        "tariff_micro",
        "missing_setting",
    )
    assert settings.known("tariff_micro", DAY) is None


def test_a_dated_answer_holds_from_its_day(tell: Tell) -> None:
    tell("tariff_micro", 280_000, date(2024, 1, 1))
    tell("tariff_micro", 310_000, date(2025, 1, 1))
    tell("tariff_micro", 295_000, date(2024, 7, 1))
    assert settings.value("tariff_micro", date(2024, 6, 30)) == 280_000
    assert settings.value("tariff_micro", date(2024, 7, 1)) == 295_000
    assert settings.value("tariff_micro", date(2026, 1, 1)) == 310_000


def test_a_correction_for_the_same_day_holds_and_the_first_is_still_to_be_read(tell: Tell) -> None:
    tell("tariff_micro", 280_000, DAY)
    tell("tariff_micro", 290_000, DAY)
    assert settings.value("tariff_micro", DAY) == 290_000
    told = _answered("tariff_micro").history
    assert [(row.value, row.revision, row.replaced) for row in told] == [
        (290_000, 2, False),
        (280_000, 1, True),
    ]


def test_an_oven_night_entered_late_uses_the_first_answer_ever_given(tell: Tell) -> None:
    tell("tariff_micro", 280_000, DAY)
    tell("tariff_micro", 290_000, DAY)
    assert settings.value("tariff_micro", DAY - timedelta(days=40)) == 290_000


def test_before_the_first_answer_a_default_holds_where_there_is_one(tell: Tell) -> None:
    tell("waste_allowance_ppm", 70_000, DAY)
    assert settings.value("waste_allowance_ppm", DAY - timedelta(days=1)) == 100_000
    assert settings.value("waste_allowance_ppm", DAY) == 70_000


def test_an_answer_that_is_not_dated_is_the_last_one_given(tell: Tell, owner: User, at: datetime) -> None:
    operations.set_setting(key="studio_name", value="Later", by=owner, at=at)
    operations.set_setting(key="studio_name", value="Latest", by=owner, at=at - timedelta(days=30))
    assert settings.value("studio_name") == "Latest"
    with pytest.raises(Refused, match="all days"):
        tell("studio_name", "On a day", DAY)


def test_a_dated_question_asked_without_a_day_is_a_mistake_in_the_program(tell: Tell) -> None:
    tell("tariff_micro", 280_000, DAY)
    with pytest.raises(ValueError, match="which day"):
        settings.value("tariff_micro")


def test_the_same_answer_again_adds_no_row(tell: Tell) -> None:
    first = tell("tariff_micro", 280_000, DAY)
    assert tell("tariff_micro", 280_000, DAY + timedelta(days=3)) == first
    assert tell("studio_name", "Hollow Tree Studio").revision == 1
    assert DatedSetting.objects.filter(key="tariff_micro").count() == 1


def test_a_maker_answers_what_nobody_has_and_changes_nothing(add: Callable[..., User], tell: Tell) -> None:
    maker, visitor = add("maker"), add("visitor")
    with pytest.raises(NotAllowed):
        tell("tariff_micro", 280_000, by=visitor)
    tell("tariff_micro", 280_000, by=maker)
    with pytest.raises(NotAllowed):
        tell("tariff_micro", 290_000, by=maker)
    assert settings.value("tariff_micro", DAY) == 280_000


def test_a_guard_from_above_stops_the_money_from_changing(tell: Tell) -> None:
    def frozen(_new: Any) -> None:
        raise Refused("The books are kept in EUR already.", field="currency", code="frozen")

    tell("currency", "GBP")  # without the guard it changes
    settings.guard("currency", frozen)
    settings.guard("currency", frozen)
    assert settings.guards["currency"].count(frozen) == 1
    with pytest.raises(Refused, match="kept in EUR"):
        tell("currency", "USD")
    assert settings.value("currency") == "GBP"
    tell("currency", "GBP")  # saying the same again changes nothing, so nothing refuses it


def test_the_day_of_an_answer_is_the_studios_day(tell: Tell, owner: User) -> None:
    late = datetime(2024, 12, 31, 23, 30, tzinfo=UTC)
    row = operations.set_setting(key="tariff_micro", value=280_000, by=owner, at=late)
    assert row.from_on == date(2025, 1, 1)
    assert settings.local_date(late) == date(2025, 1, 1)
    assert settings.day_start(date(2025, 1, 1)) == datetime(2024, 12, 31, 23, 0, tzinfo=UTC)
    with pytest.raises(ValueError, match="time zone"):
        settings.local_date(datetime(2025, 1, 1))  # noqa: DTZ001  a naive one is what is tried


def test_a_request_reads_the_answers_once(owner: User, django_assert_num_queries: Any) -> None:
    with django_assert_num_queries(1), settings.remembered():
        settings.formats()
        settings.value("studio_name")
        settings.local_date(datetime(2025, 1, 1, tzinfo=UTC))
    with django_assert_num_queries(2):
        settings.value("studio_name")
        settings.value("studio_name")


def test_nothing_remembered_outlives_its_block_or_a_change_within(tell: Tell) -> None:
    with settings.remembered():
        assert settings.value("studio_name") == "Hollow Tree Studio"
        DatedSetting.objects.filter(key="studio_name").update(value="Changed by another process")
        assert settings.value("studio_name") == "Hollow Tree Studio"
    assert settings.value("studio_name") == "Changed by another process"
    with settings.remembered():
        settings.value("studio_name")
        tell("studio_name", "Changed here")
        assert settings.value("studio_name") == "Changed here"


def test_a_change_taken_back_is_not_remembered(tell: Tell) -> None:
    with settings.remembered():
        with pytest.raises(RuntimeError), transaction.atomic():
            tell("studio_name", "Never was")
            assert settings.value("studio_name") == "Never was"
            raise RuntimeError
        assert settings.value("studio_name") == "Hollow Tree Studio"


def test_formats_carry_the_studios_own_way_of_writing(tell: Tell) -> None:
    for key, value in {
        "number_format": "1.234,56",
        "currency": "JPY",
        "length_unit": "in",
        "pressure_unit": "psi",
        "temperature_unit": "°F",
    }.items():
        tell(key, value)
    formats = settings.formats()
    assert (formats.decimal, formats.group, formats.currency, formats.coin_digits) == (",", ".", "JPY", 0)
    assert (formats.length_unit, formats.pressure_unit, formats.temperature_unit) == ("in", "psi", "°F")
    assert formats.time_zone == "Europe/Berlin"


def test_a_studio_without_any_answer_can_still_show_a_page() -> None:
    formats = settings.formats()
    assert formats.currency == settings.NO_CURRENCY
    assert settings.local_date(datetime(2025, 1, 1, tzinfo=UTC)) == date(2025, 1, 1)


FORMATS = (
    Formats(currency="EUR"),
    Formats(decimal=",", group=".", currency="EUR", length_unit="in", temperature_unit="°F", pressure_unit="psi"),
)


@pytest.mark.parametrize("formats", FORMATS)
@pytest.mark.parametrize("key", TAKES)
def test_what_stands_in_the_box_reads_back_to_the_same_answer(key: str, formats: Formats) -> None:
    good = TAKES[key][0]
    text = settings.show(key, good, formats=formats, boxed=True)
    assert settings.read(key, text, formats=formats) == good


@pytest.mark.parametrize(
    ("key", "text", "stored"),
    [
        ("tariff_micro", "0,3125", 312_500),
        ("gallery_share_ppm", "45 %", 450_000),
        ("gallery_share_ppm", "45", 450_000),
        ("altitude_m", "1620", 1620),
        ("altitude_m", "5280 ft", 1609),
        ("normal_hours_s", "900", 900 * 3600),
        ("normal_hours_s", "900 h", 900 * 3600),
        ("lie_out_limit_s", "90 min", 5400),
        ("shop_temperature_mdegc", "68 °F", 20_000),
        ("shop_temperature_mdegc", "-5", -5_000),
        ("scale_step_mg", "0,1 g", 100),
        ("first_lump_number", "41", 41),
        ("prices_include_tax", "Yes", True),
        ("forms", "bowl\n\n lantern \n", ("bowl", "lantern")),
        ("base_url", "https://studio.example/", "https://studio.example"),
    ],
)
def test_an_answer_is_read_as_a_turner_types_it(key: str, text: str, stored: Any) -> None:
    formats = Formats(decimal=",", group=".", currency="EUR")
    assert settings.read(key, text, formats=formats) == stored


@pytest.mark.parametrize("text", ["", "nan", "1e5", "lots", "0.3.1", "<b>", "9" * 40, "-3"])
def test_an_amount_not_understood_is_refused_beside_its_field(text: str) -> None:
    with pytest.raises(Refused) as refused:
        settings.read("tariff_micro", text, formats=Formats())
    assert refused.value.field == "tariff_micro"


def test_the_page_of_answers_takes_two_queries_however_long_the_history(
    tell: Tell, django_assert_num_queries: Any
) -> None:
    for month in range(1, 11):
        tell("tariff_micro", 280_000 + month, date(2024, month, 1))
    with django_assert_num_queries(2):
        page = queries.settings_page(DAY, Formats(currency="EUR"))
    assert sorted(row.question.key for rows in page.values() for row in rows) == sorted(REGISTRY)
    tariff = _answered("tariff_micro")
    assert tariff.holds == 280_010
    assert len(tariff.history) == 10
    assert not any(row.replaced for row in tariff.history)
    assert _answered("loss_allowance_ppm").in_the_box == "15"
    assert _answered("loss_allowance_ppm").holds is None
    assert _answered("paper_size").is_default


def _answered(key: str) -> queries.Answered:
    page = queries.settings_page(DAY, Formats(currency="EUR"))
    return next(row for rows in page.values() for row in rows if row.question.key == key)


def test_a_tariff_finer_than_a_coin_is_shown_as_it_was_said() -> None:
    assert settings.show("tariff_micro", 317_000, formats=Formats()) == "0.317"
    assert settings.show("tariff_micro", 320_000, formats=Formats()) == "0.32"
    assert settings.show("cost_to_sell_micro", 7_300_000, formats=Formats()) == "7.30"
