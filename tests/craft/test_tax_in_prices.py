"""A price said with tax and kept before it is said again exactly as it was typed, whatever the tax."""

import pytest

from studio.craft.pricing import before_tax, with_tax

CENT, YEN, MIL = 10_000, 1_000_000, 1000
RATES = (0, 1, 25_000, 77_000, 190_000, 200_000, 255_000, 999_999)


@pytest.mark.parametrize("ppm", RATES)
@pytest.mark.parametrize("coin", [CENT, YEN, MIL])
def test_every_price_with_tax_comes_back_as_it_was_typed(ppm: int, coin: int) -> None:
    for coins in (*range(1, 2000), 29_999, 1_234_567, 99_999_999):
        shown = coins * coin
        assert with_tax(before_tax(shown, ppm, coin), ppm, coin) == shown


def test_a_price_in_whole_coins_is_kept_in_whole_coins_where_one_gives_it() -> None:
    assert before_tax(360 * YEN, 200_000, CENT) == 300 * YEN
    assert before_tax(119_990_000, 190_000, CENT) == 100_830_000


def test_where_no_whole_coin_gives_it_the_shown_price_is_still_right() -> None:
    """25.5 % leaps over some prices: no whole cent before tax makes 0.27 with it."""
    assert not any(with_tax(cents * CENT, 255_000, CENT) == 270_000 for cents in range(100))
    kept = before_tax(270_000, 255_000, CENT)
    assert kept == 215_139 and with_tax(kept, 255_000, CENT) == 270_000


@pytest.mark.parametrize("ppm", RATES)
def test_a_lowest_ask_said_with_tax_and_typed_so_is_that_lowest_ask(ppm: int) -> None:
    for cents in range(1, 3000):
        assert before_tax(with_tax(cents * CENT, ppm, CENT), ppm, CENT) == cents * CENT
