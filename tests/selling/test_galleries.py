from datetime import date

import pytest
from django.db import IntegrityError, transaction

from studio.people.models import Role, User
from studio.people.roles import NotAllowed
from studio.people.settings import MissingSetting
from studio.selling import operations, queries
from studio.selling.errors import GalleryClosed, NameTaken, NotLikeThat
from studio.selling.models import Gallery, GalleryTerms
from studio.selling.terms import USUAL_DAYS_TO_PAY, terms_on
from tests.selling.shelf import BEGAN, MONEY, PER_CENT, day, settle


def test_a_gallery_gets_an_account_of_its_own_and_the_terms_agreed(harbour):
    terms = terms_on(harbour, BEGAN.date())
    assert (terms.share_ppm, terms.days_to_pay, terms.collects_tax, terms.agreed) == (400_000, 30, True, True)
    assert harbour.account.kind == "gallery_owes"


def test_new_terms_hold_from_their_day_on_and_not_before(harbour, owner):
    operations.change_terms(
        gallery=harbour, share_ppm=45 * PER_CENT, days_to_pay=14, from_on=date(2025, 6, 1), at=day(1), by=owner
    )
    assert terms_on(harbour, date(2025, 5, 31)).share_ppm == 400_000
    assert terms_on(harbour, date(2025, 6, 1)).share_ppm == 450_000
    assert terms_on(harbour, date(2025, 6, 1)).due_on(date(2025, 6, 1)) == date(2025, 6, 15)


def test_a_correction_for_the_same_day_holds_and_the_first_figure_stays_to_be_seen(harbour, owner):
    for share in (45, 42):
        operations.change_terms(
            gallery=harbour, share_ppm=share * PER_CENT, from_on=date(2025, 6, 1), at=day(1), by=owner
        )
    assert terms_on(harbour, date(2025, 6, 2)).share_ppm == 420_000
    rows = GalleryTerms.objects.filter(gallery=harbour, from_on=date(2025, 6, 1))
    assert [row.share_ppm for row in rows] == [450_000, 420_000]


def test_before_the_first_terms_those_first_ones_hold(harbour):
    assert terms_on(harbour, date(2020, 1, 1)).share_ppm == 400_000


def test_without_terms_the_usual_share_stands_in_and_is_asked_for_where_it_is_not_settled(owner):
    gallery = operations.add_gallery(name="By the Weir", at=BEGAN, by=owner)
    with pytest.raises(MissingSetting) as stop:
        terms_on(gallery, BEGAN.date())
    assert stop.value.key == "gallery_share_ppm"
    settle(owner, gallery_share_ppm=35 * PER_CENT)
    terms = terms_on(gallery, BEGAN.date())
    assert (terms.share_ppm, terms.days_to_pay, terms.agreed) == (350_000, USUAL_DAYS_TO_PAY, False)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"share_ppm": 1_000_000}, "share"),
        ({"share_ppm": -1}, "share"),
        ({"share_ppm": 0.4}, "share"),
        ({"days_to_pay": -1}, "days_to_pay"),
        ({"days_to_pay": 367}, "days_to_pay"),
        ({"from_on": date(1825, 6, 1)}, "from_on"),
    ],
)
def test_terms_that_cannot_stand_are_refused_beside_their_field(harbour, owner, given, field):
    with pytest.raises(NotLikeThat) as stop:
        operations.change_terms(**({"gallery": harbour, "share_ppm": 1, "at": day(1), "by": owner} | given))
    assert stop.value.field == field
    assert harbour.terms.count() == 1


def test_the_whole_price_as_a_share_is_refused_by_the_database_too(harbour, owner):
    with pytest.raises(IntegrityError), transaction.atomic():
        GalleryTerms.objects.create(
            gallery=harbour,
            from_on=date(2025, 1, 1),
            revision=1,
            share_ppm=1_000_000,
            days_to_pay=30,
            recorded_at=BEGAN,
        )


@pytest.mark.parametrize("name", ["", "   ", "x" * 201, "two\nlines", "a\x00b"])
def test_a_name_that_cannot_be_kept_is_refused_and_nothing_is_stored(owner, name):
    with pytest.raises(NotLikeThat) as stop:
        operations.add_gallery(name=name, at=BEGAN, by=owner)
    assert stop.value.field == "name"
    assert not Gallery.objects.exists()


def test_two_galleries_cannot_go_by_one_name_whatever_the_capitals(harbour, owner):
    with pytest.raises(NameTaken):
        operations.add_gallery(name="HARBOUR  rooms", at=BEGAN, by=owner)
    with pytest.raises(IntegrityError), transaction.atomic():
        Gallery.objects.create(name="Harbour rooms", account=_another_account(), added_at=BEGAN)


def _another_account():
    from studio.ledger.accounts import Kind
    from studio.ledger.operations import open_account

    return open_account(Kind.GALLERY_OWES)


def test_details_are_changed_one_by_one(harbour, owner):
    operations.change_gallery(gallery=harbour, town="Łeba", email="desk@harbour.example", by=owner)
    row = Gallery.objects.get()
    assert (row.name, row.town, row.email) == ("Harbour Rooms", "Łeba", "desk@harbour.example")
    with pytest.raises(NotLikeThat) as stop:
        operations.change_gallery(gallery=harbour, email="desk", by=owner)
    assert stop.value.field == "email"


def test_a_gallery_that_holds_a_piece_or_owes_money_is_not_put_away(harbour, bowl, owner):
    operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    with pytest.raises(GalleryClosed, match="A piece is still with"):
        operations.close_gallery(gallery=harbour, at=day(3), by=owner)
    operations.sell(piece=bowl, gallery=harbour, price_micro=300 * MONEY, at=day(3), by=owner)
    with pytest.raises(GalleryClosed, match="Money is still owed"):
        operations.close_gallery(gallery=harbour, at=day(4), by=owner)
    operations.record_payment(gallery=harbour, amount_micro=180 * MONEY, at=day(5), by=owner)
    operations.close_gallery(gallery=harbour, at=day(6), by=owner)
    assert [row.gallery for row in queries.galleries()] == []
    assert [row.gallery for row in queries.galleries(closed=True)] == [harbour]


def test_nothing_more_is_left_with_a_gallery_put_away(harbour, bowl, owner):
    operations.close_gallery(gallery=harbour, at=day(1), by=owner)
    with pytest.raises(GalleryClosed):
        operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    operations.reopen_gallery(gallery=harbour, by=owner)
    assert operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)


def test_a_maker_may_not_sell_and_a_bookkeeper_may(harbour, bowl):
    maker = User.objects.create_user(username="maker", display_name="A Maker", role=Role.MAKER)
    clerk = User.objects.create_user(username="clerk", display_name="A Clerk", role=Role.BOOKKEEPER)
    with pytest.raises(NotAllowed):
        operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=maker)
    assert operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=clerk)
