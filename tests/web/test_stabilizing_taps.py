"""The order of a load as taps on screen: pressed, asked, taken back; the bath weighed; dark, dyed and old."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from studio.equipment import operations as equipment
from studio.people import operations as people
from studio.stores import operations as stores
from studio.work import operations as work
from studio.work.models import Stabilizing
from tests.web.shop import DAY, GRAM, HOUR, TRAPS, key_of, send, text
from tests.web.test_stabilizing_pages import desk, page, run, shop

__all__ = ["desk", "run", "shop"]


def tap(desk, run, what, data=None):
    return send(desk, reverse("stabilizing_note", args=[run.pk, what]), data or {})


def back_by(run, hours):
    run.started_at -= timedelta(hours=hours)
    run.save()


def test_a_load_is_tapped_through_in_order_and_the_vacuum_is_a_share_of_the_air(desk, shop, run):
    back_by(run, 1)
    people.set_setting(key="altitude_m", value=1500, by=shop.owner, at=shop.began, from_on=shop.began.date())
    assert "They are under" in page(desk, run)
    tap(desk, run, "under")
    # 1500 m: 84,556 Pa of air
    assert "95 % of what this altitude allows" in text(tap(desk, run, "vacuum", {"gauge_pa": "0.80 bar"}))
    assert "Soaked" in text(tap(desk, run, "bubbles"))
    run.refresh_from_db()
    assert run.under_at and run.vacuum_pa == 80_000 and run.bubbles_at


def test_a_weak_vacuum_is_told(desk, shop, run):
    people.set_setting(key="altitude_m", value=0, by=shop.owner, at=shop.began, from_on=shop.began.date())
    tap(desk, run, "under")
    assert "look for a leak" in text(tap(desk, run, "vacuum", {"gauge_pa": "0.75 bar"}))


def test_under_vacuum_the_page_counts_and_shows_the_chamber_they_lie_in(desk, shop, run):
    back_by(run, 2)
    assert "Into the vacuum chamber" in page(desk, run)
    chamber = equipment.add_machine(kind="vacuum_chamber", name="The glass bell", by=shop.owner, at=shop.began)
    work.load_up(
        machine=chamber, workpieces=shop.blanks[:2], purpose="vacuum", at=timezone.now() - HOUR, by=shop.owner
    )
    said = page(desk, run)
    assert "See The glass bell" in said and "Into the vacuum chamber" not in said
    assert "of vacuum so far" not in said
    Stabilizing.objects.update(under_at=timezone.now() - 2 * HOUR, vacuum_at=timezone.now() - HOUR)
    said = page(desk, run)
    assert "They stopped" in said and "1 h of vacuum so far" in said
    assert said.index("Only a chamber made for it") < said.index("Weighted under")


@pytest.mark.parametrize(
    ("factor", "words"),
    [(1_000_000, "as long again as the vacuum took"), (2_000_000, "200 % of the time the vacuum took")],
)
def test_how_long_it_soaks_is_said_as_the_studio_set_it(desk, shop, run, factor, words):
    people.set_setting(key="soak_factor_ppm", value=factor, by=shop.owner, at=timezone.now())
    assert f"{words}, once the bubbles stop" in page(desk, run)


def test_out_of_order_is_asked_and_the_tick_carries_it_out(desk, run):
    asked = tap(desk, run, "bubbles")
    run.refresh_from_db()
    assert asked.status_code == 422 and 'name="sure"' in asked.content.decode() and run.bubbles_at is None
    tap(desk, run, "bubbles", {"sure": "on"})
    run.refresh_from_db()
    assert run.bubbles_at is not None


def test_more_vacuum_than_air_is_refused_beside_the_gauge_and_stays_typed(desk, run):
    tap(desk, run, "under")
    answer = tap(desk, run, "vacuum", {"gauge_pa": "2 bar"})
    assert answer.status_code == 422 and "no vacuum is deeper" in text(answer)
    assert 'value="2 bar"' in answer.content.decode()


def test_a_tap_is_taken_back(desk, run):
    tap(desk, run, "under")
    assert "Take back" in page(desk, run)
    send(desk, reverse("stabilizing_take_back", args=[run.pk, "under"]), {})
    run.refresh_from_db()
    assert run.under_at is None


def test_a_tap_sent_twice_counts_once(desk, run):
    url = reverse("stabilizing_note", args=[run.pk, "under"])
    data = {"submission": key_of(desk.get(url))}
    assert [desk.post(url, data).status_code for _ in range(2)] == [303, 303]


def test_no_such_tap_or_load_is_not_there(desk, run):
    assert desk.get(reverse("stabilizing_note", args=[run.pk, "nonsense"])).status_code == 404
    assert desk.get(reverse("stabilizing_note", args=[run.pk + 99, "under"])).status_code == 404


@pytest.mark.parametrize("trap", TRAPS)
def test_no_trap_in_a_gauge_or_a_bath_is_a_fault(desk, shop, run, trap):
    for name in ("gauge_pa", "at"):
        assert tap(desk, run, "vacuum", {name: trap, "sure": "on"}).status_code in (200, 422), name
    url = reverse("bath_tell", args=[shop.bath.pk])
    for name in ("catalysed_on", "keeps_s"):
        assert send(desk, url, {name: trap}).status_code in (200, 422), name
    url = reverse("stabilizing_brushed", args=[run.pk])
    assert send(desk, url, {"workpiece": trap}).status_code in (200, 422)


def test_the_bath_weighed_before_and_after_shares_the_rest_and_the_skin_waits(desk, shop, run):
    first, second = shop.blanks[0].pk, shop.blanks[1].pk
    baked = {f"baked_{first}": "1.2 kg", f"baked_{second}": "750"}
    url = reverse("stabilizing_baked", args=[run.pk])
    asked = send(desk, url, {**baked, "bath_before_mg": "3 kg", "bath_after_mg": "3.1 kg"})
    assert asked.status_code == 422 and "more than before" in text(asked)
    answer = text(send(desk, url, {**baked, "bath_before_mg": "3 kg", "bath_after_mg": "2.324 kg"}))
    assert "676 g left the bath, 650 g of it is in the wood. The other 26 g" in answer
    assert "Brush the cured skin off before casting" in answer
    shop.bath.account.refresh_from_db()
    assert shop.bath.account.amount == (2000 - 676) * GRAM
    brushed = reverse("stabilizing_brushed", args=[run.pk])
    assert "Brushed off: 41/1." in text(send(desk, brushed, {"workpiece": str(first)}))
    assert "Brushed off: 41/1, 41/2." in text(send(desk, brushed, {}))
    assert "Still on" in text(send(desk, reverse("stabilizing_brushed_back", args=[run.pk]), {}))


def test_old_resin_and_dark_beside_light_are_asked_on_one_tick(desk, shop):
    today = timezone.now().date()
    tell = {"catalysed_on": str(today - 9 * DAY), "keeps_s": "7", "dyed": "on"}
    assert "kept until" in text(send(desk, reverse("bath_tell", args=[shop.bath.pk]), tell))
    first, second = shop.blanks[0].pk, shop.blanks[1].pk
    data = {"bath": shop.bath.pk, "cooled": "on", f"dark_{first}": "on"}
    data |= {f"in_{first}": "on", f"dry_{first}": "800", f"in_{second}": "on", f"dry_{second}": "500"}
    asked = send(desk, reverse("stabilize_start"), data)
    assert "darkens both" in text(asked) and "kept until" in text(asked) and not Stabilizing.objects.exists()
    send(desk, reverse("stabilize_start"), {**data, "sure": "on"})
    assert Stabilizing.objects.get().items.filter(dark=True).count() == 1


def test_not_cooled_is_refused_with_the_reason(desk, shop):
    first = shop.blanks[0].pk
    data = {"bath": shop.bath.pk, f"in_{first}": "on", f"dry_{first}": "800"}
    answer = send(desk, reverse("stabilize_start"), data)
    assert answer.status_code == 422 and "hot wood sets the bath off" in text(answer)
    assert not Stabilizing.objects.exists()


def test_the_advice_stands_by_each_piece(desk, shop):
    shop.blanks[0].punky = True
    shop.blanks[0].save()
    answer = text(desk.get(reverse("stabilize_start")))
    assert "Stabilize it: it is punky." in answer and "light wood is soft" in answer


def test_a_catalyst_still_to_come_is_refused(desk, shop):
    url = reverse("bath_tell", args=[shop.bath.pk])
    answer = send(desk, url, {"catalysed_on": str(timezone.now().date() + 3 * DAY), "keeps_s": "7"})
    assert answer.status_code == 422 and "still to come" in text(answer)
    assert stores.tell_of_bath(bath=shop.bath, catalysed_on=None, keeps_s=None, dyed=False, at=timezone.now())
