"""The shelf, a piece whole, its public page and its waits: right, and as many questions at 1,000 as at 10."""

from dataclasses import fields

from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.ledger.accounts import Account, Kind
from studio.people import operations as people
from studio.pieces import operations, queries
from studio.pieces.lineage import Resin, Wood
from studio.pieces.models import AskingPrice, Piece, PiecePart
from studio.stores import operations as stores
from studio.wood.models import Species
from studio.work import operations as work
from studio.work.models import Descent, Workpiece

from .conftest import BEGAN, DAY, GRAM, HOUR_S, KILO, MM, MONEY, NOW


def numbers(rows):
    return [row.workpiece.number for row in rows]


def test_the_shelf_holds_what_is_finished_and_still_ours(make_piece, finish, owner):
    ready, begun, gone = make_piece("1"), make_piece("2"), make_piece("3")
    finish(ready)
    finish(gone)
    operations.let_go(piece=gone, how="gift", at=BEGAN + 9 * DAY, by=owner, now=NOW)
    assert numbers(queries.ready_shelf()) == ["1"]
    assert numbers(queries.pieces(state="finishing")) == ["2"]
    assert numbers(queries.pieces(state="left")) == ["3"]
    assert numbers(queries.pieces(state="gone")) == ["3"]
    assert numbers(queries.pieces(state="all", sort="number")) == ["1", "2", "3"]
    assert numbers(queries.pieces(state="no such", sort="number")) == ["1", "2"]
    assert begun.finished_at is None


def test_a_search_finds_words_of_the_title_the_wood_and_the_signed_number_whatever_their_case(make_piece, owner):
    jar = make_piece("33/1", title="Ärmelgrüner Krug", form="vase")
    make_piece("34", title="Plain bowl")
    operations.sign(piece=jar, number="Nr Ö7", at=BEGAN + DAY, by=owner, now=NOW)
    for text in ("ÄRMEL", "krug vase", "33/1", "nr o7", "ö7"):
        assert numbers(queries.pieces(text=text)) == ["33/1"], text
    assert numbers(queries.pieces(text="krug bowl")) == []
    assert numbers(queries.pieces(form="vase")) == ["33/1"]


def test_dear_ones_come_first_and_those_without_a_price_last_either_way(make_piece, owner):
    for number, money in (("1", 300), ("2", None), ("3", 500)):
        piece = make_piece(number)
        if money:
            operations.set_asking_price(piece=piece, amount_micro=money * MONEY, at=BEGAN + DAY, by=owner, now=NOW)
    assert numbers(queries.pieces(sort="dearest")) == ["3", "1", "2"]
    assert numbers(queries.pieces(sort="cheapest")) == ["1", "3", "2"]


def test_a_piece_whole_has_its_prices_newest_first_and_its_picture(bowl, finish, owner):
    finish(bowl)
    for money in (730, 690):
        operations.set_asking_price(piece=bowl, amount_micro=money * MONEY, at=BEGAN + 9 * DAY, by=owner, now=NOW)
    page = queries.page(bowl.pk)
    assert (page.asking_micro, [row.amount_micro for row in page.prices]) == (690 * MONEY, [690 * MONEY, 730 * MONEY])
    assert page.card_picture == page.pictures[0]
    assert queries.page(bowl.pk + 1) is None


# --- where it comes from -------------------------------------------------------------------------


def species(name, botanical=""):
    return Species.objects.create(common_name=name, botanical_name=botanical)


def test_a_casting_of_two_woods_names_both_with_where_they_stood_and_its_resin(owner):
    ash, elm = species("Marsh ash", "Fraxinus palustris"), species("Field elm")
    one = work.take_in_lump(
        number="1", paid_micro=10 * MONEY, species=ash, species_certainty="likely",
        where_it_stood="Harra mill", at=BEGAN, by=owner,
    )  # fmt: skip
    two = work.take_in_lump(number="2", paid_micro=10 * MONEY, species=elm, at=BEGAN, by=owner)
    (blank,) = work.cut(parent=one, blanks=[work.BlankSpec(weight=1, mass_mg=KILO)], at=BEGAN + DAY, by=owner)
    casting = _poured([blank, two], "sea green", owner, at=BEGAN + 2 * DAY)
    (cut,) = work.cut(parent=casting, blanks=[work.BlankSpec(weight=1, mass_mg=KILO)], at=BEGAN + 3 * DAY, by=owner)
    origin = queries.origins([cut.pk])[cut.pk]
    assert origin.woods == (
        Wood("Marsh ash", "Fraxinus palustris", "Harra mill", "likely"),
        Wood("Field elm", "", "", ""),
    )
    assert origin.resins == (Resin("Clear casting resin", "sea green"),)
    assert not origin.stabilized


def test_what_was_said_of_the_blank_holds_over_what_its_lump_was_taken_for(owner):
    lump = work.take_in_lump(
        number="1", paid_micro=10 * MONEY, species=species("Elm"), species_certainty="guess", at=BEGAN, by=owner
    )
    (blank,) = work.cut(parent=lump, blanks=[work.BlankSpec(weight=1)], at=BEGAN, by=owner)
    work.describe(workpiece=blank, species=species("Ash"))
    assert queries.origins([blank.pk])[blank.pk].woods == (Wood("Ash", "", "", ""),)


def test_resin_poured_on_what_was_left_is_not_that_of_the_blank_cut_off_before(owner):
    lump = work.take_in_lump(number="1", paid_micro=10 * MONEY, at=BEGAN, by=owner)
    (early,) = work.cut(parent=lump, blanks=[work.BlankSpec(weight=1)], kept_weight=1, at=BEGAN + DAY, by=owner)
    _poured([lump], "black", owner, at=BEGAN + 2 * DAY)
    (late,) = work.cut(parent=lump, blanks=[work.BlankSpec(weight=1)], at=BEGAN + 3 * DAY, by=owner)
    found = queries.origins([early.pk, late.pk])
    assert found[early.pk].resins == ()
    assert found[late.pk].resins == (Resin("Clear casting resin", "black"),)


def _poured(blanks, colour, owner, at):
    parts = []
    for name, kind in (("Clear A", "resin_a"), ("Clear B", "resin_b")):
        part = stores.add_material(name=name, kind=kind, by=owner, at=BEGAN)
        stores.buy(material=part, amount=4 * KILO, paid_micro=80 * MONEY, by=owner, at=BEGAN)
        parts.append(part)
    system = stores.add_resin_system(
        name="Clear casting resin", part_a=parts[0], part_b=parts[1], parts_a=1000, parts_b=1000,
        mixed_density_kgm3=1050, demould_s=HOUR_S, full_cure_s=HOUR_S, smallest_mg=GRAM, largest_mg=5 * KILO,
        ratio_tolerance_ppm=20_000, by=owner, at=BEGAN,
    )  # fmt: skip
    pour = work.pour(
        wood_sure=True,
        system=system, fills=[work.Fill(planned_mg=KILO, blanks=blanks)], planned_a_mg=KILO // 2,
        planned_b_mg=KILO // 2, poured_a_mg=KILO // 2, poured_b_mg=KILO // 2, colour_words=colour, at=at, by=owner,
    )  # fmt: skip
    return pour.fills.get().casting


# --- the public page -----------------------------------------------------------------------------


def test_the_public_page_says_the_story_and_never_a_price_a_cost_or_a_client(bowl, finish, owner):
    operations.describe_piece(piece=bowl, story="From a field edge.")
    client = people.add_client(name="Maud Harra", by=owner, at=BEGAN)
    work.hold(workpiece=bowl.workpiece, reason=f"for {client.name}", ref="commission:1")
    operations.set_asking_price(
        piece=bowl, amount_micro=731 * MONEY, reason="a fair one", at=BEGAN + DAY, by=owner, now=NOW
    )
    assert queries.by_token(bowl.public_token) is None
    finish(bowl)
    public = queries.by_token(bowl.public_token)
    assert (public.title, public.signed_number, public.story) == ("Bowl", "1", "From a field edge.")
    assert (public.height_um, public.mass_mg) == (80 * MM, 700 * GRAM)
    told = " ".join(str(getattr(public, one.name)) for one in fields(public))
    for secret in ("731", "Maud", "115", "a fair one", "ilse", "Ilse"):
        assert secret not in told
    operations.let_go(piece=bowl, how="gift", ref="commission:1", at=BEGAN + 9 * DAY, by=owner, now=NOW)
    assert queries.by_token(bowl.public_token) == public


def test_no_address_and_a_wrong_one_lead_nowhere(bowl, finish):
    finish(bowl)
    before = bowl.public_token
    operations.renew_token(piece=bowl)
    assert [queries.by_token(token) for token in ("", "x", before)] == [None, None, None]


# --- waits ---------------------------------------------------------------------------------------


def said(at=NOW):
    return [(wait.place, wait.what, wait.subject, wait.reason) for wait in queries.waits(at)]


def test_the_next_tick_waits_at_the_finish_bench_and_a_price_at_the_desk(bowl, finish, owner, picture):
    assert said() == [("finish bench", "Measure", "41", "then it is still to be signed, photographed and rested")]
    operations.measure(
        piece=bowl, height_um=80 * MM, mass_mg=GRAM * 700, at=BEGAN + DAY, by=owner, now=NOW, sure=True
    )
    operations.sign(piece=bowl, at=BEGAN + DAY, by=owner, now=NOW)
    operations.rest(piece=bowl, at=BEGAN + DAY, by=owner, now=NOW)
    assert said() == [("desk", "Photograph", "1", "the last of its four ticks")]
    operations.photograph(piece=bowl, picture=picture(), at=BEGAN + DAY, by=owner, now=NOW)
    assert said() == [("desk", "Price", "1", "finished, and nothing is asked for it yet")]
    operations.set_asking_price(piece=bowl, amount_micro=100 * MONEY, at=BEGAN + 2 * DAY, by=owner, now=NOW)
    assert said() == []


def test_a_piece_still_to_be_turned_waits_at_the_lathe_and_not_here(bowl):
    work.plan_steps(workpiece=bowl.workpiece, codes=["turn", "finish"])
    assert said() == []
    work.end_step(workpiece=bowl.workpiece, code="turn", at=BEGAN + DAY)
    assert [wait[1] for wait in said()] == ["Measure"]


def test_one_kept_for_someone_is_not_asked_a_price_for(bowl, finish):
    finish(bowl)
    work.hold(workpiece=bowl.workpiece, reason="ordered", ref="commission:1")
    assert said() == []


# --- how often the database is asked -------------------------------------------------------------


def fill(owner, count):
    """So many pieces, each cut from a lump of its own, with a part, a price and every other one finished."""
    first = Workpiece.objects.count()
    accounts = Account.objects.bulk_create([Account(kind=Kind.WORKPIECE) for _ in range(2 * count)])
    wood = species(f"Ash {first}")
    rows = Workpiece.objects.bulk_create(
        Workpiece(
            number=f"{first + n}", sort_key=f"{first + n:06}", account=account, stage="piece", made_at=BEGAN,
            species=wood, title="Bowl", form="bowl", search_text="bowl",
        )
        for n, account in enumerate(accounts)
    )  # fmt: skip
    lumps, blanks = rows[:count], rows[count:]
    Descent.objects.bulk_create(
        Descent(parent=lump, child=blank, how="cut", share_ppm=10**6, at=BEGAN)
        for lump, blank in zip(lumps, blanks, strict=True)
    )
    pieces = Piece.objects.bulk_create(
        Piece(
            workpiece=blank, became_at=BEGAN, became_by=owner, signed_number=f"S{blank.number}", signed_at=BEGAN,
            signed_on=BEGAN.date(), measured_at=BEGAN, photographed_at=BEGAN, rested_at=BEGAN, mass_mg=GRAM,
            height_um=90 * MM, finished_at=BEGAN if n % 2 else None,
        )
        for n, blank in enumerate(blanks)
    )  # fmt: skip
    PiecePart.objects.bulk_create(PiecePart(piece=piece, position=1, words="lid") for piece in pieces)
    AskingPrice.objects.bulk_create(
        AskingPrice(piece=piece, amount_micro=MONEY, at=BEGAN, by=owner) for piece in pieces[::4]
    )


def read(name):
    keys = list(Piece.objects.values_list("pk", flat=True))
    if name == "pieces":
        for row in queries.pieces(text="bowl", state="all"):
            assert row.workpiece.species.common_name and row.workpiece.account.kind and row.card_pictures == []
    elif name == "ready_shelf":
        assert all(row.finished_at for row in queries.ready_shelf())
    elif name == "pages":
        assert all(page.origin.woods and page.parts for page in queries.pages(keys).values())
    elif name == "page":
        assert queries.page(keys[0]).piece.became_by.username
    elif name == "by_token":
        assert queries.by_token(Piece.objects.get(pk=keys[0]).public_token).title == "Bowl"
    else:
        assert len(queries.waits(NOW)) > 4 and name == "waits"


def asked():
    found = {}
    for name in ("pieces", "ready_shelf", "pages", "page", "by_token", "waits"):
        with CaptureQueriesContext(connection) as seen:
            read(name)
        found[name] = len(seen)
    return found


def test_lists_and_pages_ask_as_often_at_a_thousand_pieces_as_at_ten(owner):
    fill(owner, 10)
    few = asked()
    fill(owner, 990)
    assert Piece.objects.count() == 1000
    assert asked() == few
