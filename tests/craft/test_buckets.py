"""One mix in several cups."""

import pytest

from studio.craft.buckets import buckets
from studio.craft.mix import split_by_weight


@pytest.mark.parametrize("total", [2_000, 4_999_000, 5_000_000, 5_001_000, 12_345_000])
def test_cups_add_up_to_the_one_mix_and_none_is_too_full(total: int) -> None:
    found = buckets(total, 5_000_000, (100, 83), 1000)
    whole = [int(one) for one in split_by_weight(total, (100, 83), 1000)]
    assert [sum(part) for part in zip(*found, strict=True)] == whole
    assert max(map(sum, found)) <= 5_000_000
    assert len(found) == -(-total // 5_000_000)
    assert max(map(sum, found)) - min(map(sum, found)) <= 2000


def test_a_step_too_many_asks_for_one_more_cup() -> None:
    # 10 of 7 and 3 in cups of 5: rounding each part by itself would fill one to 6.
    found = buckets(10_000, 5_000, (7, 3), 1000)
    assert all(sum(cup) <= 5_000 for cup in found) and sum(map(sum, found)) == 10_000


def test_cups_below_the_smallest_batch_are_refused_with_what_would_fit() -> None:
    with pytest.raises(ValueError, match="500 g in one cup would go, or 600 g and more in 2"):
        buckets(510_000, 500_000, (1, 1), 1000, least_mg=300_000)


@pytest.mark.parametrize("wrong", [(0, 1, 1), (1, 0, 1), (1, 1, 0)])
def test_nothing_is_no_mix(wrong: tuple[int, int, int]) -> None:
    with pytest.raises(ValueError):
        buckets(wrong[0], wrong[1], (1, 1), wrong[2])
