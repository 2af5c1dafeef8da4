from datetime import UTC, datetime, timedelta

import pytest

from studio.craft.waits import Wait, by_place, in_walking_order

NOW = datetime(2026, 11, 24, 11, 0, tzinfo=UTC)


def wait(place: str, subject: str, kind: str = "since", hours: float | None = 0, what: str = "Weigh") -> Wait:
    at = None if hours is None else NOW + timedelta(hours=hours)
    return Wait(place, what, subject, kind, at, "why")  # type: ignore[arg-type]


def test_the_round_walks_from_the_oven_to_the_desk() -> None:
    merged = in_walking_order(
        NOW, [wait("desk", "a"), wait("oven", "41/3")], [wait("lathe", "33/1"), wait("pressure pot", "35")]
    )
    assert [w.place for w in merged] == ["oven", "pressure pot", "lathe", "desk"]


def test_what_is_late_comes_first_and_what_cannot_begin_comes_last() -> None:
    late, ready = wait("oven", "9", "by", -1), wait("oven", "8", "since", -3)
    later, any_time = wait("oven", "7", "not before", 2), wait("oven", "6", "not before", None)
    assert in_walking_order(NOW, [later, any_time, ready, late]) == (late, ready, any_time, later)


def test_equal_times_go_by_number_as_a_person_counts() -> None:
    merged = in_walking_order(NOW, [wait("oven", "41/10"), wait("oven", "41/9"), wait("oven", "9/1")])
    assert [w.subject for w in merged] == ["9/1", "41/9", "41/10"]


def test_a_thing_not_before_now_can_be_done_now() -> None:
    assert wait("oven", "1", "not before", 0).begins(NOW)
    assert not wait("oven", "1", "not before", 0.1).begins(NOW)
    assert wait("oven", "1", "by", 5).begins(NOW)
    assert not wait("oven", "1", "since", -5).late(NOW)


def test_places_with_nothing_to_do_are_left_out() -> None:
    groups = by_place([wait("desk", "1"), wait("oven", "2"), wait("desk", "3")])
    assert [(place, [w.subject for w in waits]) for place, waits in groups] == [
        ("oven", ["2"]),
        ("desk", ["1", "3"]),
    ]


def test_a_place_that_is_not_in_the_shop_is_refused() -> None:
    with pytest.raises(ValueError, match="no place in the shop"):
        wait("attic", "1")
    with pytest.raises(ValueError, match="one of"):
        wait("oven", "1", "someday")


def test_what_ends_by_an_eye_can_be_looked_at_now_and_says_until_what() -> None:
    bubbles = Wait("vacuum chamber", "watch", "41/3", "until", NOW, "at 98 %", until="bubbles stop")
    assert bubbles.begins(NOW) and not bubbles.late(NOW + timedelta(days=1))
    with pytest.raises(ValueError, match="until what"):
        Wait("vacuum chamber", "watch", "41/3", "until", NOW, "at 98 %")
    with pytest.raises(ValueError, match="no other wait"):
        Wait("vacuum chamber", "watch", "41/3", "since", NOW, "at 98 %", until="bubbles stop")
