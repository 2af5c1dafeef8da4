"""Addresses typed or bent by hand: filters, pages, sorts and keys that make no sense break nothing."""

import re

import pytest
from django.test import Client

from tests.web.addresses import WHO, addresses
from tests.web.people_of_a_studio import signed_in
from tests.web.small_studio import SmallStudio, open_small_studio

ODD = ("", "0", "-1", "99999", "x", "<b>x</b>", "O'Brien", "9" * 30, "Łódź 漢", "a\x00b", "2025-02-30", "w" * 300)
ALWAYS = ("page", "sort", "q", "year")


@pytest.fixture
def small(db: None) -> SmallStudio:
    return open_small_studio()


@pytest.fixture
def owner(small: SmallStudio) -> Client:
    return signed_in(small.owner)


def asked_by(html: str) -> set[str]:
    """What a page asks by its address: names of inputs of its filters and of the queries its links carry."""
    names = set(re.findall(r'href="\?(?:[^"]*?&amp;)?([a-z_]+)=', html)) | set(
        re.findall(r'href="[^"?]*\?([a-z_]+)=', html)
    )
    for form in re.findall(r'<form[^>]*method="get"[^>]*>(.*?)</form>', html, re.S):
        names |= set(re.findall(r'name="([a-z_]+)"', form))
    return names


def test_no_filter_page_or_sort_breaks_a_list(small: SmallStudio, owner: Client) -> None:
    wrong, tried = [], 0
    for name, url in addresses(small).items():
        if "o" not in WHO[name][0] or "<" in url:
            continue
        response = owner.get(url)
        if response.status_code != 200 or not response.get("Content-Type", "").startswith("text/html"):
            continue
        names = asked_by(response.content.decode())
        if not names:
            continue
        for odd in ODD:
            tried += 1
            bent = owner.get(url, dict.fromkeys((*ALWAYS, *names), odd))
            if bent.status_code not in (200, 302, 400, 404, 422):
                wrong.append(f"{name}: {odd!r} as {sorted(names)}: answered {bent.status_code}")
            elif b"<b>x</b>" in bent.content:
                wrong.append(f"{name}: what was typed came back as markup")
    assert tried > 60
    assert wrong == []


@pytest.mark.parametrize("key", ["0", "999999", "99999999999999999999999"])
def test_a_key_of_nothing_is_not_found_and_never_a_fault(small: SmallStudio, owner: Client, key: str) -> None:
    wrong, tried = [], 0
    for name, url in addresses(small).items():
        if "o" not in WHO[name][0] or not re.search(r"/\d+/", url):
            continue
        tried += 1
        for bent in (re.sub(r"/\d+/", f"/{key}/", url), re.sub(r"/\d+/(?!.*/\d+/)", f"/{key}/", url)):
            response = owner.get(bent)
            if response.status_code != 404:
                wrong.append(f"{name}: {bent} answered {response.status_code}")
    assert tried > 80
    assert wrong == []


def test_a_key_of_nothing_takes_no_form_either(small: SmallStudio, owner: Client) -> None:
    wrong = []
    for name, url in addresses(small).items():
        if "o" in WHO[name][1] and re.search(r"/\d+/", url):
            response = owner.post(re.sub(r"/\d+/", "/999999/", url), {"submission": "a-key"})
            if response.status_code != 404:
                wrong.append(f"{name}: answered {response.status_code}")
    assert wrong == []


@pytest.mark.parametrize(
    "path",
    ["/nowhere/", "/bench/x/", "/help/../settings/", "/p/" + "x" * 300 + "/", "/wood/%00/", "/books/entries/-1/"],
)
def test_an_address_that_was_never_there_is_said_so(owner: Client, path: str) -> None:
    assert owner.get(path).status_code in (400, 404)
