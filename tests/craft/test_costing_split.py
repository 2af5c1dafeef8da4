import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.craft.costing import draw_value, split

amounts = st.integers(-(10**15), 10**15)
weights = st.lists(st.integers(0, 10**12), min_size=1, max_size=30).filter(any)


@settings(max_examples=400)
@given(amounts, weights)
def test_the_shares_add_up_to_the_amount(amount: int, parts: list[int]) -> None:
    shares = split(amount, parts)
    assert sum(shares) == amount
    assert len(shares) == len(parts)


@settings(max_examples=400)
@given(amounts, weights)
def test_no_share_is_a_whole_unit_off_its_due(amount: int, parts: list[int]) -> None:
    total = sum(parts)
    for share, weight in zip(split(amount, parts), parts, strict=True):
        assert abs(share * total - amount * weight) < total


@settings(max_examples=200)
@given(amounts, weights)
def test_a_negative_amount_is_shared_like_the_positive_one(amount: int, parts: list[int]) -> None:
    assert split(-amount, parts) == tuple(-share for share in split(amount, parts))


def test_of_equal_remainders_the_earlier_one_comes_first() -> None:
    assert split(100, [1, 1, 1]) == (34, 33, 33)
    assert split(-100, [1, 1, 1]) == (-34, -33, -33)
    assert split(101, [1, 1, 1]) == (34, 34, 33)


def test_the_unit_left_over_goes_to_the_largest_remainder() -> None:
    assert split(10, [3, 3, 1]) == (4, 4, 2)
    assert split(5, [0, 1]) == (0, 5)


def test_rounding_each_share_by_itself_would_lose_a_unit() -> None:
    alone = [round(100 * 1 / 3) for _ in range(3)]
    assert sum(alone) == 99
    assert sum(split(100, [1, 1, 1])) == 100


@pytest.mark.parametrize(("parts", "words"), [([], "nobody"), ([0, 0], "equally"), ([1, -1], "below zero")])
def test_sharing_by_nothing_is_refused_with_a_sentence(parts: list[int], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        split(10, parts)


@settings(max_examples=300)
@given(st.integers(0, 10**15), st.integers(1, 10**12), st.data())
def test_draws_empty_a_batch_to_exactly_nothing(value: int, amount: int, data: st.DataObject) -> None:
    left, drawn = amount, []
    for _ in range(4):
        take = data.draw(st.integers(0, left))
        drawn.append(draw_value(value - sum(drawn), left, take))
        left -= take
    drawn.append(draw_value(value - sum(drawn), left, left))
    assert sum(drawn) == value
    assert min(drawn) >= 0


def test_the_last_gram_takes_the_rest() -> None:
    assert draw_value(100, 3, 1) == 33
    assert draw_value(67, 2, 1) == 33
    assert draw_value(34, 1, 1) == 34


def test_an_empty_batch_gives_nothing_and_refuses_more() -> None:
    assert draw_value(0, 0, 0) == 0
    with pytest.raises(ValueError, match="More is taken"):
        draw_value(10, 5, 6)
    with pytest.raises(ValueError, match="below zero"):
        draw_value(10, 5, -1)
