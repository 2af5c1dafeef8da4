"""Every form there is, filled in as tired hands and hostile ones fill it in: no form breaks, none loses a word.

The forms are found, not listed: a new screen is tried as soon as it has an address. What each figure must be is
tested with its own screen; here it is that the answer is a sentence, never a fault, and that nothing slips in.
"""

import re
from collections.abc import Iterator

import pytest
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.utils.html import escape

from studio.ledger import audit
from studio.ledger.browsing import journal
from tests.web.addresses import WHO, addresses
from tests.web.forms_on_pages import MOMENTS, TYPED, Form, forms_on
from tests.web.pages import text
from tests.web.people_of_a_studio import open_studio, signed_in
from tests.web.small_studio import SmallStudio, open_small_studio

TRAPS = {
    "left empty": "",
    "nothing": "0",
    "below nothing": "-5",
    "the other mark": "1,5",
    "markup": "<b>x</b>",
    "an apostrophe": "O'Brien & Sons",
    "two hundred letters": "w" * 200,
    "other letters": "Łódź Гравировка 漢字 ½",
    "a figure beyond all": "9" * 30,
    "no figure": "1e5 NaN",
    "what can't be seen": "a\x00b\u202ec",
}
MOMENT_TRAPS = {
    "an hour that was not": ("2025-03-30T02:30", "2025-02-30"),
    "an hour that was twice": ("2025-10-26T02:30", "2025-10-26"),
    "the end of days": ("9999-12-31T23:59", "9999-12-31"),
    "before all books": ("0001-01-01T00:00", "0001-01-01"),
    "words": ("yesterday", "yesterday"),
}
KEPT_AS_TYPED = {"markup", "an apostrophe", "other letters", "two hundred letters"}
LEFT_OUT = {"sign_in", "sign_out", "set_up"}  # forms without a key; they have tests of their own


@pytest.fixture
def small(db: None) -> SmallStudio:
    return open_small_studio()


@pytest.fixture
def owner(small: SmallStudio) -> Client:
    return signed_in(small.owner)


_forms: list[tuple[str, str, Form]] = []


def every_form(small: SmallStudio, client: Client) -> list[tuple[str, str, Form]]:
    """(name, where it is sent, the form) of each form on each page an owner can open; the pages are opened once."""
    if not _forms:
        _forms.extend(_found(small, client))
    return _forms


def _found(small: SmallStudio, client: Client) -> Iterator[tuple[str, str, Form]]:
    for name, url in addresses(small).items():
        if name in LEFT_OUT or "o" not in WHO[name][0]:
            continue
        response = client.get(url)
        if response.status_code == 200 and response.get("Content-Type", "").startswith("text/html"):
            for form in forms_on(response.content.decode()):
                yield name, form.action or url, form


def sent(client: Client, url: str, data: dict[str, list[str]]) -> HttpResponse:
    """Sent and undone, so that the next form finds the same studio."""
    with transaction.atomic():
        response = client.post(url, data)
        transaction.set_rollback(True)
    return response


def filled(form: Form, words: str, moments: tuple[str, str] | None = None) -> dict[str, list[str]]:
    data = form.as_shown()
    for name in form.of(TYPED):
        data[name] = [words]
    if moments:
        for one in form.fields:
            if one.kind in MOMENTS:
                data[one.name] = [moments[one.kind == "date"]]
    return data


def wrong_with(name: str, trap: str, words: str, form: Form, response: HttpResponse) -> str:
    if response.status_code >= 500 or response.status_code not in (200, 302, 303, 404, 409, 413, 422):
        return f"{name}: {trap}: answered {response.status_code}"
    body = response.content.decode()
    if "<b>x</b>" in body:
        return f"{name}: {trap}: what was typed came back as markup"
    asked = [one for one in form.fields if one.kind in TYPED and one.name != "submission"]
    if response.status_code == 422 and asked and trap in KEPT_AS_TYPED and escape(words) not in body:
        return f"{name}: {trap}: what was typed is gone"
    if response.status_code == 422 and not re.search(r'class="(?:refused|errorlist|danger|stale)', body):
        return f"{name}: {trap}: refused without a word"
    return ""


@pytest.mark.parametrize("trap", TRAPS)
def test_no_form_breaks_or_loses_what_was_typed(small: SmallStudio, owner: Client, trap: str) -> None:
    words, wrong, tried = TRAPS[trap], [], 0
    for name, url, form in every_form(small, owner):
        if form.of(TYPED):
            tried += 1
            wrong.append(wrong_with(name, trap, words, form, sent(owner, url, filled(form, words))))
    assert tried > 60
    assert [fault for fault in wrong if fault] == []


@pytest.mark.parametrize("trap", MOMENT_TRAPS)
def test_no_moment_breaks_a_form(small: SmallStudio, owner: Client, trap: str) -> None:
    wrong, tried = [], 0
    for name, url, form in every_form(small, owner):
        if form.of(MOMENTS):
            tried += 1
            data = form.as_shown()
            for one in form.fields:
                if one.kind in MOMENTS:
                    data[one.name] = [MOMENT_TRAPS[trap][one.kind == "date"]]
            wrong.append(wrong_with(name, trap, "", form, sent(owner, url, data)))
    assert tried > 25
    assert [fault for fault in wrong if fault] == []


def test_no_choice_that_was_not_offered_is_taken(small: SmallStudio, owner: Client) -> None:
    wrong, tried = [], 0
    for name, url, form in every_form(small, owner):
        chosen = form.of({"select", "radio", "checkbox", "hidden"})
        chosen = [one for one in chosen if one not in ("submission", "csrfmiddlewaretoken")]
        for strange in ("nonsense", "999999", "<b>x</b>", "9" * 30):
            if chosen:
                tried += 1
                data = form.as_shown() | {one: [strange] for one in chosen}
                wrong.append(wrong_with(name, f"choice {strange}", strange, form, sent(owner, url, data)))
    assert tried > 100
    assert [fault for fault in wrong if fault] == []


def test_every_form_sent_twice_counts_once_and_another_body_is_turned_away(small: SmallStudio, owner: Client) -> None:
    """As shown, which many forms accept; where one does, the same again changes nothing and answers the same."""
    wrong, accepted = [], 0
    for name, url, form in every_form(small, owner):
        with transaction.atomic():
            data = form.as_shown()
            first = owner.post(url, data)
            if first.status_code == 303:
                accepted += 1
                count = len(journal())
                again = owner.post(url, data)
                if (again.status_code, again.get("Location")) != (303, first["Location"]) or len(journal()) != count:
                    wrong.append(f"{name}: sent again it answers {again.status_code}")
                other = owner.post(url, data | {"another": ["body"]})
                if other.status_code not in (409, 422) or len(journal()) != count:
                    wrong.append(f"{name}: with another body it answers {other.status_code}")
            transaction.set_rollback(True)
        if name.startswith(("person", "own")):
            owner.force_login(small.owner)
    assert accepted > 20
    assert wrong == []


def test_a_form_without_its_key_or_with_one_too_long_changes_nothing(small: SmallStudio, owner: Client) -> None:
    wrong = []
    for name, url, form in every_form(small, owner):
        for key in ("", "k" * 65):
            before = len(journal())
            response = sent(owner, url, form.as_shown() | {"submission": [key]})
            # 200: a form in two steps shows what it would do
            if response.status_code not in (200, 409, 422, 404) or len(journal()) != before:
                wrong.append(f"{name}: answered {response.status_code}")
    assert wrong == []


def test_every_form_of_an_empty_studio_opens_and_says_what_is_missing(db: None) -> None:
    client, wrong, tried = signed_in(open_studio()), [], 0
    for url in ("/wood/take-in/", "/stores/new/", "/stores/resin/new/", "/stores/bath/new/", "/equipment/new/",
                "/moulds/new/", "/loads/new/", "/pour/", "/stabilizing/new/", "/galleries/new/", "/clients/new/",
                "/suppliers/new/", "/commissions/new/", "/books/pay/", "/books/close/", "/wood/species/add/",
                "/papers/", "/prices/"):  # fmt: skip
        response = client.get(url)
        if response.status_code != 200:
            wrong.append(f"{url}: {response.status_code}")
        for form in forms_on(response.content.decode()):
            tried += 1
            wrong.append(wrong_with(url, "as shown", "", form, sent(client, url, form.as_shown())))
    assert tried > 8
    assert [fault for fault in wrong if fault] == []


def test_after_all_that_the_books_are_whole(small: SmallStudio, owner: Client) -> None:
    """Not undone this time: the awkward words go in wherever they are taken, and the audit finds nothing."""
    taken = 0
    for _, url, form in list(every_form(small, owner)):
        response = owner.post(url, filled(form, "Łódź Гравировка 漢字 O'Brien"))
        taken += response.status_code == 303
        if "person" in url or "/me/" in url:
            owner.force_login(small.owner)
    assert taken > 5
    result = audit.run()
    assert result.differences == ()


def test_the_traps_would_notice_a_form_that_breaks(small: SmallStudio, owner: Client) -> None:
    form = Form("/x/", [])
    assert wrong_with("a", "markup", "<b>x</b>", form, HttpResponse("<p><b>x</b></p>", status=422))
    assert wrong_with("a", "nothing", "0", form, HttpResponse("oh", status=500))
    assert wrong_with("a", "nothing", "0", form, HttpResponse("<p>no</p>", status=422))
    assert not wrong_with("a", "nothing", "0", form, HttpResponse('<p class="refused">no</p>', status=422))
    assert text("<p>no</p>") == "no"


def test_what_happened_has_happened_and_not_before_its_thing_was_there(small: SmallStudio, owner: Client) -> None:
    """Each form's own moment, a year ahead and long before: asked again, never taken."""
    # Days that lie ahead by nature, or of which the earliest is as good as any.
    ahead = {"not_before", "by_on", "until", "from_on", "use_by", "inspect_by", "on"}
    taken, tried = [], 0
    for name, url, form in every_form(small, owner):
        for one in form.fields:
            if one.kind in MOMENTS and one.name not in ahead:
                for day in ("2190-05-05", "1999-05-05"):
                    tried += 1
                    data = form.as_shown() | {one.name: [day if one.kind == "date" else f"{day}T10:00"]}
                    response = sent(owner, url, data)
                    if response.status_code in (302, 303):
                        taken.append(f"{name}: {one.name} on {day}")
    assert tried > 60
    assert [fault for fault in taken if not fault.startswith("wood_take_in: at on 1999")] == [], (
        "wood bought long ago"
    )
