from datetime import date

import pytest

from studio.people import numbering

ON = date(2026, 3, 1)


@pytest.mark.parametrize(
    ("pattern", "written"),
    [("{n}", "7"), ("{yy}-{nn}", "26-07"), ("HT {nnnn}/{year}", "HT 0007/2026"), ("№{nnn}", "№007")],
)
def test_a_pattern_is_filled_as_one_would_sign_it(pattern: str, written: str) -> None:
    assert numbering.fill(pattern, 7, ON) == written


def test_a_number_too_long_for_its_digits_is_written_in_full() -> None:
    assert numbering.fill("{nn}", 1234, ON) == "1234"


@pytest.mark.parametrize(
    "pattern",
    ["", "7", "{n}{nn}", "{}", "{n!r}", "{n.__class__}", "{n}{", "}{n}", "{N}", "{year}", "{n}" + "-" * 40],
)
def test_a_pattern_that_cannot_be_filled_is_refused_with_a_sentence(pattern: str) -> None:
    with pytest.raises(ValueError, match=r"\.$"):
        numbering.check(pattern)


def test_a_count_begins_again_each_year_only_with_a_year_in_it() -> None:
    assert numbering.yearly("{yy}-{n}")
    assert not numbering.yearly("{n}")
