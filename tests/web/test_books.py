"""The books on screen: where we stand, the year, what broke, the journal, bills and closing."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.fields.quantity import show
from studio.ledger import browsing
from studio.ledger import operations as ledger
from studio.ledger.accounts import Account, Kind
from studio.ledger.queries import closed_until, pool_sums
from studio.reports.stand import stand
from tests.web.pages import links, tables, text
from tests.web.people_of_a_studio import errors_of, key_on, open_studio, send, signed_in
from tests.web.small_studio import SmallStudio, coins, day, open_small_studio


@pytest.fixture
def small(db: None) -> SmallStudio:
    return open_small_studio()


@pytest.fixture
def desk(small: SmallStudio) -> Client:
    return signed_in(small.people["bookkeeper"])


def page(client: Client, name: str, **query: str) -> str:
    response = client.get(reverse(name), query)
    assert response.status_code == 200
    return response.content.decode()


# --- where we stand -------------------------------------------------------------------------------


def test_an_empty_studio_is_told_what_to_do_first(db: None) -> None:
    html = page(signed_in(open_studio()), "books")
    assert "Nothing lies here yet" in html and "owes us anything" in html
    assert "Two ways of reckoning" not in html and "They agree" not in html


def test_the_page_shows_what_the_report_says(desk: Client) -> None:
    found = stand()
    cells = {row[0]: row[1:] for row in tables(page(desk, "books"))["stand"] if len(row) == 4}
    for block in found.blocks:
        for line in block.lines:
            wanted = [str(line.count), show(line.paid_out_micro, "money"), show(line.all_in_micro, "money")]
            assert cells[line.words] == wanted
    whole = text(page(desk, "books"))
    assert show(found.all_in_micro, "money") in whole
    assert f"from all {found.lines_read} single lines of the journal. They agree" in whole


def test_a_difference_is_said_at_the_top_and_the_agreement_is_not(desk: Client, small: SmallStudio) -> None:
    Account.objects.filter(pk=small.whole.account_id).update(value_micro=coins("57.20"))
    html = text(page(desk, "books"))
    assert "Two ways of reckoning don't agree" in html and "manage.py audit" in html
    assert "They agree" not in html


def test_each_line_leads_to_a_screen_that_is_there(desk: Client) -> None:
    for url in links(page(desk, "books")):
        assert desk.get(url).status_code in (200, 302, 403), url


def test_the_file_is_text_a_spreadsheet_reads(desk: Client) -> None:
    response = desk.get(reverse("books_csv"))
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    assert response["Content-Disposition"].startswith('attachment; filename="where-we-stand-')
    assert response.content.startswith(b"\xef\xbb\xbf")
    assert '"Lumps",3,57.19,95.60,""' in response.content.decode()


# --- the year and what broke ----------------------------------------------------------------------


def test_the_year_stands_to_the_coin_with_a_link_to_every_year(desk: Client) -> None:
    html = page(desk, "year", year="2025")
    rows = {row[0]: row[1:] for row in tables(html)["year"]}
    assert rows["Sold, before tax"] == ["389.00", "389.00"]
    assert rows["The galleries' share"] == ["−175.05", "−175.05"]
    pools = {row[0]: row[1:] for row in tables(html)["pools"]}
    assert pools["Power"][:3] == ["47.91", "7.61", "40.30"]
    this_year = timezone.localdate().year
    assert all(f'href="?year={number}"' in html for number in range(2025, this_year + 1))


@pytest.mark.parametrize("asked", ["", "0", "9999", "1066", "x", "²⁰²⁵", "20255", "-2025", "<b>"])
def test_a_year_that_cant_be_meant_shows_one_that_can(desk: Client, asked: str) -> None:
    html = page(desk, "year", year=asked)
    assert "What is left" in html and "<b>" not in text(html)


def test_what_broke_is_there_for_a_maker_too_without_the_books(small: SmallStudio) -> None:
    maker = signed_in(small.people["maker"])
    html = page(maker, "losses", year="2025")
    assert tables(html)["losses"][0][:3] == ["Rough", "Catch or blow-out", "1"]
    assert reverse("books") not in links(html)
    assert "Nothing broke" in page(maker, "losses", year="2026")


# --- the journal ----------------------------------------------------------------------------------


def rows_of(html: str) -> int:
    return html.count('<tr role="row">') - 1


def test_the_journal_is_newest_first_and_in_pages(desk: Client) -> None:
    first, second = page(desk, "journal"), page(desk, "journal", page="2")
    assert rows_of(first) == 25
    assert rows_of(second) == len(browsing.journal()) - 25
    assert "Wages paid" in first.split("<tbody")[1].split("</tr>")[0]


def test_the_journal_is_searched_by_what_by_day_and_by_account(desk: Client, small: SmallStudio) -> None:
    assert rows_of(page(desk, "journal", kind="sale")) == 1
    assert rows_of(page(desk, "journal", since="2025-03-28", until="2025-03-28")) == 1
    mine = page(desk, "journal", account=str(small.piece.workpiece.account_id))
    assert "41/1" in text(mine) and 0 < rows_of(mine) < 20
    nothing = page(desk, "journal", kind="sale", since="2020-01-01", until="2020-12-31")
    assert "No entry is like that" in nothing


@pytest.mark.parametrize(
    "query",
    [{"kind": "<b>"}, {"since": "yesterday"}, {"until": "2025-13-01"}, {"account": "x"}, {"account": "9" * 30},
     {"page": "0"}, {"page": "99999"}, {"page": "x"}, {"account": "-1"}, {"account": "0"}],
)  # fmt: skip
def test_a_filter_that_cant_be_read_breaks_nothing(desk: Client, query: dict[str, str]) -> None:
    html = page(desk, "journal", **query)
    assert rows_of(html) > 0 or "No entry" in html


# --- one entry ------------------------------------------------------------------------------------


def test_an_entry_names_what_it_touched_and_adds_up_to_nothing(desk: Client, small: SmallStudio) -> None:
    html = desk.get(reverse("entry", args=[small.pour.entry_id])).content.decode()
    whole = text(html)
    assert "Poured" in whole and "41/1" in whole and "Clear A, batch" in whole
    assert "803 g Clear A" in whole and "10 g Slate blue" in whole
    assert reverse("workpiece", args=[small.casting.pk]) in links(html)
    values = [row[-1] for row in tables(html)["lines"]]
    assert sum(int(value.replace("−", "-").replace(".", "").replace(",", "")) for value in values) in (-1, 0, 1)


def test_a_bill_is_taken_back_once_and_both_entries_stay(desk: Client, small: SmallStudio) -> None:
    url = reverse("entry_reverse", args=[small.entry])
    assert url in links(desk.get(reverse("entry", args=[small.entry])).content.decode())
    key = key_on(desk.get(url).content.decode())
    first, second = (send(desk, url, {}, key=key) for _ in range(2))
    assert first.status_code == second.status_code == 303 and first["Location"] == second["Location"]
    assert pool_sums()[Kind.PAID_LABOUR] < 0
    entry = text(desk.get(reverse("entry", args=[small.entry])).content.decode())
    assert "Taken back since" in entry and "Take it back" not in entry
    again = send(desk, url, {})
    assert again.status_code == 422 and "taken back before" in text(again.content.decode())


def test_what_another_screen_keeps_a_row_of_is_not_taken_back_here(desk: Client, small: SmallStudio) -> None:
    """Reversed here a sale would be gone from the books while the piece still stood there as sold."""
    entry = small.sale.entry_id
    page_ = text(desk.get(reverse("entry", args=[entry])).content.decode())
    assert "A sale is taken back on the page of the sale" in page_
    url = reverse("entry_reverse", args=[entry])
    assert desk.get(url).status_code == 404
    assert desk.post(url, {"submission": "x"}).status_code == 404


def test_a_maker_opens_entries_of_cost_and_not_those_of_money(small: SmallStudio) -> None:
    maker = signed_in(small.people["maker"])
    assert maker.get(reverse("entry", args=[small.pour.entry_id])).status_code == 200
    for entry in (small.sale.entry_id, small.payment.entry_id, small.entry):
        refused = maker.get(reverse("entry", args=[entry]))
        assert refused.status_code == 403 and "389" not in text(refused.content.decode())
    back = ledger.reverse(entry_id=small.entry, at=day(40), by=small.owner).entry_id
    assert maker.get(reverse("entry", args=[back])).status_code == 403


def test_an_entry_that_is_not_there_is_not_found(desk: Client) -> None:
    assert desk.get(reverse("entry", args=[999_999])).status_code == 404
    assert desk.get("/books/entries/99999999999999999999/").status_code == 404


# --- bills ----------------------------------------------------------------------------------------

BILL = {"what": "energy", "amount": "61.37", "at": "2025-05-02"}


def test_a_bill_fills_its_pool_and_opens_as_an_entry(desk: Client) -> None:
    before = pool_sums()
    response = send(desk, reverse("bill_pay"), BILL)
    assert response.status_code == 303
    after = pool_sums()
    assert after[Kind.ENERGY] - before[Kind.ENERGY] == coins("61.37")
    assert after[Kind.CASH] - before[Kind.CASH] == -coins("61.37")
    shown = text(desk.get(response["Location"]).content.decode())
    assert "Power: 61.37 paid." in shown and "2 May 2025" in shown


def test_a_bill_sent_twice_or_back_and_sent_again_is_paid_once(desk: Client) -> None:
    before = len(browsing.journal())
    key = key_on(desk.get(reverse("bill_pay")).content.decode())
    for _ in range(3):
        assert send(desk, reverse("bill_pay"), BILL, key=key).status_code == 303
    assert len(browsing.journal()) == before + 1
    changed = send(desk, reverse("bill_pay"), {**BILL, "amount": "16.37"}, key=key)
    assert changed.status_code == 409 and len(browsing.journal()) == before + 1


def test_two_tabs_are_two_bills(desk: Client) -> None:
    before = len(browsing.journal())
    for _ in range(2):
        send(desk, reverse("bill_pay"), BILL)
    assert len(browsing.journal()) == before + 2


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("what", "", "Choose one"),
        ("what", "cash", "not one of the available"),
        ("amount", "", "Nothing is written"),
        ("amount", "0", "too little"),
        ("amount", "-5", "less than nothing"),
        ("amount", "61,37", "61,37"),
        ("amount", "<b>x", "<b>x"),
        ("amount", "61.375", "coins"),
        ("amount", "9" * 40, "9999"),
        ("amount", "9" * 200, "60"),
        ("amount", "О'Х", "О'Х"),
        ("amount", "漢", "漢"),
        ("at", "", "Nothing is written"),
        ("at", "tomorrow", "no day we can read"),
        ("at", "2025-02-30", "no day we can read"),
    ],
)
def test_a_bill_that_cant_be_meant_is_told_beside_its_field(
    desk: Client, field: str, typed: str, sentence: str
) -> None:
    before = len(browsing.journal())
    response = send(desk, reverse("bill_pay"), {**BILL, field: typed})
    assert response.status_code == 422
    assert sentence in errors_of(response, field), errors_of(response, field)
    assert "<b>x" not in response.content.decode()
    assert len(browsing.journal()) == before


def test_a_bill_of_tomorrow_is_refused_beside_its_day(desk: Client) -> None:
    tomorrow = timezone.localdate() + timedelta(days=1)
    response = send(desk, reverse("bill_pay"), {**BILL, "at": tomorrow.isoformat()})
    assert response.status_code == 422 and "still to come" in errors_of(response, "at")


def test_a_bill_of_today_is_a_moment_that_has_been(desk: Client) -> None:
    assert send(desk, reverse("bill_pay"), {**BILL, "at": timezone.localdate().isoformat()}).status_code == 303


# --- closing --------------------------------------------------------------------------------------


def test_a_closed_day_takes_nothing_more_and_a_later_one_does(desk: Client) -> None:
    assert send(desk, reverse("books_close"), {"until": "2025-04-30"}).status_code == 303
    assert closed_until().isoformat() == "2025-04-30"
    refused = send(desk, reverse("bill_pay"), {**BILL, "at": "2025-04-30"})
    assert refused.status_code == 422 and "books are closed" in errors_of(refused, "at")
    assert send(desk, reverse("bill_pay"), {**BILL, "at": "2025-05-01"}).status_code == 303
    assert "closed up to" in text(page(desk, "books"))


@pytest.mark.parametrize("until", ["", "x", "2099-01-01", "0001-01-01x"])
def test_a_day_that_cant_be_closed_is_told(desk: Client, until: str) -> None:
    response = send(desk, reverse("books_close"), {"until": until})
    assert response.status_code == 422 and errors_of(response, "until")
    assert closed_until() is None


def test_closing_never_moves_back(desk: Client) -> None:
    send(desk, reverse("books_close"), {"until": "2025-04-30"})
    response = send(desk, reverse("books_close"), {"until": "2025-03-31"})
    assert response.status_code == 422 and "already" in text(response.content.decode())
    assert closed_until().isoformat() == "2025-04-30"


# --- who may --------------------------------------------------------------------------------------


@pytest.mark.parametrize("role", ["maker", "visitor"])
@pytest.mark.parametrize("name", ["books", "year", "journal", "books_csv", "year_csv", "bill_pay", "books_close"])
def test_the_books_are_for_owner_and_bookkeeper(small: SmallStudio, role: str, name: str) -> None:
    client = signed_in(small.people[role])
    refused = client.get(reverse(name))
    assert refused.status_code == 403
    assert "Ask an owner or a bookkeeper" in text(refused.content.decode())


@pytest.mark.parametrize("name", ["bill_pay", "books_close"])
def test_nothing_is_stored_for_who_may_not(small: SmallStudio, name: str) -> None:
    before = len(browsing.journal())
    response = signed_in(small.people["maker"]).post(
        reverse(name), {**BILL, "until": "2025-04-01", "submission": "k"}
    )
    assert response.status_code == 403
    assert len(browsing.journal()) == before and closed_until() is None
