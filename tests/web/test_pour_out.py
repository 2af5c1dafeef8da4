"""Out of the mould on the screen: how each casting looks, what it and the cup weigh, and where the rest went."""

import pytest
from django.urls import reverse

from studio.work.models import Outcome, Pour
from tests.web.pour_shop import a_pour_shop, at, plan
from tests.web.shop import GRAM, TRAPS, of_role, send, signed_in, text


@pytest.fixture
def shop(db):
    return a_pour_shop()


@pytest.fixture
def desk(shop):
    return signed_in(shop.owner)


@pytest.fixture
def pour(desk, shop):
    """440 g of the mix round 800 g of wood; its sheet keeps it in the mould for four hours."""
    send(desk, at("pour_book", plan(shop)), {"poured_a": "220", "poured_b": "220"})
    return Pour.objects.get()


def demould(desk, shop, pour, **typed):
    return send(desk, reverse("demould", args=[pour.pk]), {"sure": "on", **typed})


def test_one_go_says_how_it_looks_what_it_weighs_and_what_the_cup_holds(desk, shop, pour):
    piece = shop.blanks[0]
    asks = text(desk.get(reverse("demould", args=[pour.pk])))
    assert "41/1" in asks and "How does it look?" in asks and "the wood floated" in asks
    answer = demould(
        desk, shop, pour, **{f"mass_{piece.pk}": "1195", f"seen_{piece.pk}": ["void", "cloudy"], "cup": "30"}
    )
    page = text(answer).replace(" ,", ",")
    assert "a void, cloudy" in page and "1195 g" in page
    assert "In the castings, by their weight 395 g" in page
    assert "Left in the cup 30 g" in page and "On the floor and the stick 15 g" in page
    assert Pour.objects.get().cup_mg == 30 * GRAM
    assert "a void, cloudy" in text(desk.get(reverse("mould_poured", args=[shop.mould.pk])))


def test_good_beside_a_fault_is_refused_with_all_that_was_typed(desk, shop, pour):
    piece = shop.blanks[0]
    typed = {f"mass_{piece.pk}": "1195", f"seen_{piece.pk}": ["good", "soft"], "cup": "30"}
    answer = demould(desk, shop, pour, **typed)
    assert answer.status_code == 422 and "tap one of them away" in text(answer)
    assert 'value="1195"' in answer.content.decode() and 'value="30"' in answer.content.decode()
    assert not Outcome.objects.exists() and Pour.objects.get().demoulded_at is None


def test_weights_that_disagree_are_asked_about_once(desk, shop, pour):
    piece, url = shop.blanks[0], reverse("demould", args=[pour.pk])
    asked = send(desk, url, {f"mass_{piece.pk}": "1300", "cup": "30"})
    assert asked.status_code == 422 and 'name="sure"' in asked.content.decode()
    assert "too early" in text(asked) and "more than was mixed" in text(asked)
    page = text(demould(desk, shop, pour, **{f"mass_{piece.pk}": "1300", "cup": "30"}))
    assert "More than was mixed 90 g" in page and "don’t agree" in page


def test_the_cup_is_weighed_on_its_own(desk, shop, pour):
    demould(desk, shop, pour, **{f"mass_{shop.blanks[0].pk}": "1195"})
    page = text(desk.get(reverse("pour", args=[pour.pk])))
    assert "In the cup and on the floor 45 g the cup wasn’t weighed" in page and "Weigh the cup" in page
    url = reverse("pour_cup", args=[pour.pk])
    refused = send(desk, url, {"cup": "900"})
    assert refused.status_code == 422 and "Take the weight of the empty cup off" in text(refused)
    assert "30 g were left in the cup" in text(send(desk, url, {"cup": "30"}))
    for trap in TRAPS:
        assert send(desk, url, {"cup": trap}, follow=False).status_code in (303, 422), trap


def test_a_tap_says_how_it_looks_and_a_second_takes_it_back(desk, shop, pour):
    demould(desk, shop, pour)
    fill = pour.fills.get()
    url = reverse("casting_seen", args=[fill.pk])
    assert 'value="soft on"' in desk.get(url).content.decode()
    page = send(desk, url, {"tick": "soft on", "words": "in the middle"})
    assert 'value="soft off" aria-pressed="true"' in page.content.decode() and "in the middle" in text(page)
    refused = send(desk, url, {"tick": "good on", "words": "still typed"})
    assert refused.status_code == 422 and "It says soft. Tap that away first" in text(refused)
    assert "still typed" in refused.content.decode()
    send(desk, url, {"tick": "soft off"})
    send(desk, url, {"tick": "good on"})
    assert list(Outcome.objects.values_list("what", flat=True)) == ["good"]
    assert "looks good" in text(desk.get(reverse("pour", args=[pour.pk])))
    page = desk.get(reverse("workpiece", args=[fill.casting_id]))
    assert "It came out looks good" in text(page) and url in page.content.decode()


@pytest.mark.parametrize("trap", [*TRAPS, "good", "soft sideways", "lovely on"])
def test_no_trap_in_a_tap_is_a_fault(desk, shop, pour, trap):
    url = reverse("casting_seen", args=[pour.fills.get().pk])
    assert send(desk, url, {"tick": trap}, follow=False).status_code in (303, 422)
    assert send(desk, url, {"tick": "void on", "words": trap}, follow=False).status_code in (303, 422)
    assert set(Outcome.objects.values_list("what", flat=True)) <= {"void", "soft"}


def test_a_visitor_reads_how_it_looks_and_presses_nothing(desk, shop, pour):
    demould(desk, shop, pour, **{f"seen_{shop.blanks[0].pk}": ["leak"]})
    visitor = signed_in(of_role(shop.owner, "visitor"))
    page = text(visitor.get(reverse("pour", args=[pour.pk])))
    assert "it leaked" in page and "Weigh the cup" not in page and "Change" not in page
    assert visitor.get(reverse("casting_seen", args=[pour.fills.get().pk])).status_code == 403
