import pytest

from studio.craft.numbers import is_number, next_child_number, walking_key


@pytest.mark.parametrize(
    ("parent", "taken", "expected"),
    [
        ("41", [], "41/1"),
        ("41", ["41/1", "41/2", "41/2b", "4/9", "411/8"], "41/3"),
        ("41/3", [], "41/3b"),
        ("41/3", ["41/3b", "41/3c", "41/3b2"], "41/3d"),
        ("41/3", ["41/3z"], "41/3aa"),
        ("41/3", ["41/3az"], "41/3ba"),
        ("41/3b", [], "41/3b2"),
        ("41/3b", ["41/3b2", "41/3b3"], "41/3b4"),
        ("41/3b2", [], "41/3b2b"),
    ],
)
def test_the_next_number_is_the_one_a_turner_would_pencil(parent: str, taken: list[str], expected: str) -> None:
    assert next_child_number(parent, taken) == expected


def test_a_number_is_not_given_twice_when_one_in_the_middle_is_gone() -> None:
    assert next_child_number("41", ["41/1", "41/3"]) == "41/4"


def test_a_hundred_cuts_of_a_blank_give_a_hundred_numbers() -> None:
    taken: list[str] = []
    for _ in range(100):
        taken.append(next_child_number("7/1", taken))
    assert len(set(taken)) == 100
    assert all(map(is_number, taken))


@pytest.mark.parametrize("text", ["", "0", "041", "41/", "/3", "41/3B", "41-3", "41/3/2", "4１", "x" * 50])
def test_what_is_no_number_is_refused(text: str) -> None:
    assert not is_number(text)
    with pytest.raises(ValueError, match="is not a number like"):
        next_child_number(text, [])


def test_numbers_sort_as_a_person_would() -> None:
    numbers = ["41/10", "41/3b", "9", "41", "41/3", "41/3aa", "41/9", "41/3b2"]
    assert sorted(numbers, key=walking_key) == [
        "9", "41", "41/3", "41/3b", "41/3b2", "41/3aa", "41/9", "41/10",
    ]  # fmt: skip
