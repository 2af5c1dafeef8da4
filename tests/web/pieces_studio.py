"""A studio with pieces in it, and people of every role signed in to it."""

import re
from io import BytesIO

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from studio.ledger import audit
from studio.people import operations as people
from studio.people.models import User
from tests.selling.shelf import BEGAN, PER_CENT, set_up, settle

MONEY = 1_000_000
ROLES = ("owner", "maker", "bookkeeper", "visitor")


def a_studio() -> User:
    """Every answer given that a price or a card asks for."""
    owner = set_up(loss_allowance_ppm=15 * PER_CENT)
    settle(owner, gallery_share_ppm=40 * PER_CENT, cost_to_sell_micro=10 * MONEY)
    people.set_setting(key="base_url", value="https://hollow.example", by=owner, at=BEGAN)
    return owner


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def of_role(role: str, owner: User) -> Client:
    """Somebody of this role, signed in."""
    if role == "owner":
        return signed_in(owner)
    user = User.objects.filter(username=f"a-{role}").first() or people.add_user(
        username=f"a-{role}",
        display_name=f"A {role}",
        role=role,
        password="quiet shavings on the floor",
        by=owner,
        at=BEGAN,
    )
    return signed_in(user)


def key(response) -> str:  # type: ignore[no-untyped-def]
    """The key of the first form on a page."""
    return re.search(r'name="submission" value="([^"]+)"', response.content.decode())[1]


def send(client: Client, url: str, /, **data):  # type: ignore[no-untyped-def]
    """Open a form and send it, as a browser does: what it showed, with these changes."""
    page = client.get(url)
    assert page.status_code == 200, (url, page.status_code)
    return client.post(url, {**shown(page), **data, "submission": key(page)})


def shown(page) -> dict:  # type: ignore[no-untyped-def]
    """What the form of a page would send untouched."""
    form = page.context["form"]
    found = {}
    for bound in form:
        value = bound.value()
        if value is None or value is False or value == "" or hasattr(value, "read"):
            continue
        found[bound.html_name] = "on" if value is True else value
    return found


def text(response) -> str:  # type: ignore[no-untyped-def]
    return response.content.decode()


def photo(colour: str = "saddlebrown") -> SimpleUploadedFile:
    out = BytesIO()
    Image.new("RGB", (640, 480), colour).save(out, "JPEG")
    return SimpleUploadedFile("bowl.jpg", out.getvalue(), content_type="image/jpeg")


def assert_audit_is_clean() -> None:
    assert not audit.run().differences
