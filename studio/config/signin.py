"""A link that lets one person in once: for the demo, and for whoever sits at the machine and forgot a
password.

The link is signed, holds for an hour and leaves a mark in the data folder when used, so a second use finds
the mark. Deactivating the person or changing
the password makes it void.
"""

import hashlib
import secrets
import time
from typing import Any

from django.conf import settings
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.core import signing
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from studio.people.models import User

SALT = "studio.config.signin.one-time-link"
HOLDS_S = 3600


def name_tried(request: HttpRequest | None, credentials: dict[str, Any] | None = None) -> str | None:
    """The sign-in name of a try, as the person's own is kept: Ilse and ilse share their ten tries."""
    said = credentials.get("username") if credentials else request.POST.get("username") if request else None
    return User.normalize_username(said.strip()) if isinstance(said, str) else None


def _state_of(user: User) -> str:
    return hashlib.sha256(user.password.encode()).hexdigest()[:16]


def link_for(user: User, address: str) -> str:
    """A one-time link for `user` at `address` (scheme, host and port, no slash at the end)."""
    token = signing.dumps([user.pk, secrets.token_urlsafe(12), _state_of(user)], salt=SALT)
    return address + reverse("come-in", args=[token])


def redeem(token: str) -> User | None:
    """The person a link was made for, once; None when it is forged, too old, used, or no longer theirs."""
    try:
        pk, nonce, state = signing.loads(token, salt=SALT, max_age=HOLDS_S)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    user = User.objects.filter(pk=pk, is_active=True).first()
    if user is None or _state_of(user) != state or not _mark_used(str(nonce)):
        return None
    return user


def _mark_used(nonce: str) -> bool:
    folder = settings.DATA_DIR / "used-links"
    folder.mkdir(mode=0o700, exist_ok=True)
    # A mark older than twice the link's life guards nothing any more.
    for old in folder.iterdir():
        if old.stat().st_mtime < time.time() - 2 * HOLDS_S:
            old.unlink(missing_ok=True)
    try:
        (folder / hashlib.sha256(nonce.encode()).hexdigest()).touch(exist_ok=False)
    except FileExistsError:
        return False
    return True


@login_not_required
@require_GET
def come_in(request: HttpRequest, token: str) -> HttpResponse:
    user = redeem(token)
    if user is None:
        return render(request, "config/link_spent.html", status=410)
    login(request, user, backend="django.contrib.auth.backends.ModelBackend")
    return HttpResponseRedirect(settings.LOGIN_REDIRECT_URL)
