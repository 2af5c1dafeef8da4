"""Files for spreadsheets: numbers are numbers, and nothing in them runs."""

import csv
import io
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.reports import csvs
from studio.reports.stand import stand
from studio.reports.year import year
from studio.selling import operations as selling
from tests.web.small_studio import SmallStudio, day

ACTING = ["=1+1", "+1", "-1", "@SUM(1)", "\t=1", "\r=1", "\n=1", "\0=1", "＝1", "＋1", "－1", "＠1", "  =1+1"]


@pytest.mark.parametrize("text", ACTING)
def test_what_could_act_as_a_formula_is_led_in_by_an_apostrophe(text: str) -> None:
    assert csvs.safe(text) == f"'{text}"


@pytest.mark.parametrize("text", ["", "Harbour Rooms", "41/3b", "Łódź 漢字", "a=1", "3 + 4"])
def test_plain_words_stay_as_they_are(text: str) -> None:
    assert csvs.safe(text) == text


@given(st.text())
def test_no_text_at_all_begins_a_cell_that_acts(text: str) -> None:
    cell = csvs.safe(text)
    assert not cell.startswith(csvs.ACTS) and not cell.lstrip().startswith(csvs.ACTS)


@given(st.lists(st.text(alphabet=st.characters(exclude_categories=("Cs",), exclude_characters="\0\r\n")), min_size=1))
def test_every_text_comes_back_out_of_the_file(words: list[str]) -> None:
    text = csvs.written(["a"] * len(words), [words])
    (_, row) = list(csv.reader(io.StringIO(text)))
    assert [cell.removeprefix("'") if cell != word else cell for cell, word in zip(row, words, strict=True)] == words


@pytest.mark.parametrize(
    ("micro", "digits", "shown"),
    [
        (1_234_565_000, 2, "1234.57"),
        (-5_000, 2, "-0.01"),
        (0, 2, "0.00"),
        (1_500_000, 0, "2"),
        (1_234_500, 3, "1.235"),
    ],
)
def test_money_is_a_bare_number_rounded_half_up_once(micro: int, digits: int, shown: str) -> None:
    assert csvs.money(micro, digits) == Decimal(shown)
    assert csvs.written(["a"], [[csvs.money(micro, digits)]]).splitlines()[1] == shown


def rows_of(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text)))


def test_where_we_stand_is_the_same_in_the_file_as_on_the_page(small: SmallStudio) -> None:
    found = stand()
    head, *rows = rows_of(csvs.stand_csv(found, currency="EUR", coin_digits=2))
    assert head[3] == "Paid out, EUR"
    assert len(rows) == sum(len(block.lines) for block in found.blocks) + len(found.debts)
    paid = sum(Decimal(row[3]) for row in rows if row[3])
    assert abs(paid - Decimal(found.paid_out_micro) / 1_000_000) < Decimal("0.01") * len(rows)
    owed = sum(Decimal(row[5]) for row in rows if row[5])
    assert owed == Decimal(found.owed_micro) / 1_000_000


def test_a_gallery_named_like_a_formula_does_nothing_and_amounts_below_nothing_stay_numbers(
    small: SmallStudio,
) -> None:
    gallery = selling.add_gallery(name="=cmd|' /C calc'!A0", share_ppm=0, at=day(20), by=small.owner)
    selling.leave_with(pieces=[small.piece], gallery=gallery, at=day(32), by=small.owner)
    text = csvs.stand_csv(stand(), currency="EUR", coin_digits=2)
    rows = rows_of(text)
    assert [row[1] for row in rows if "cmd" in row[1]] == ["'=cmd|' /C calc'!A0"]
    assert "-173.00" in {row[5] for row in rows}
    assert '"-173.00"' not in text


def test_the_year_is_a_file_too(small: SmallStudio) -> None:
    found = year(date(2025, 1, 1), date(2025, 12, 31))
    _, *rows = rows_of(csvs.year_csv(found, currency="EUR", coin_digits=2))
    assert ["2025-01-01", "2025-12-31", "Sold, before tax", "389.00", "389.00"] in rows
    assert len(rows) == len(found.sums)
