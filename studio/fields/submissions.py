"""Carrying a form out once, however often it arrives."""

import hashlib
import json
import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction

from studio.fields.errors import Refused
from studio.fields.models import Submission

KEY_LIMIT = 64


class OtherBody(Refused):
    """The key was used before for a form that said something else."""


@dataclass(frozen=True)
class Outcome:
    result: str
    replayed: bool


def new_key() -> str:
    """A fresh key for a form about to be shown."""
    return secrets.token_urlsafe(18)


def body_hash(body: Mapping[str, Sequence[str]]) -> str:
    """Hash of what a form said, without the keys that differ each time it is shown (key, CSRF token)."""
    kept = {k: list(v) for k, v in body.items() if k not in {"submission", "csrfmiddlewaretoken"}}
    return hashlib.sha256(json.dumps(kept, sort_keys=True).encode()).hexdigest()


def carry_out(
    *,
    actor: Any,
    key: str,
    body: Mapping[str, Sequence[str]],
    at: datetime,
    do: Callable[[Submission], str],
) -> Outcome:
    """Will run `do` once for this actor and key, in one transaction, and remember what it returned.

    The same key with the same body answers the first result again. The same key with another body raises
    `OtherBody`. When `do` raises, nothing stays behind, so the corrected form may use the same key.
    """
    if not key or len(key) > KEY_LIMIT:
        raise OtherBody("This form has lost its number. Open the page again and send it from there.")
    hashed = body_hash(body)
    with transaction.atomic():
        try:
            with transaction.atomic():
                row = Submission.objects.create(actor=actor, key=key, body_hash=hashed, at=at)
        except IntegrityError:
            row = Submission.objects.get(actor=actor, key=key)
            if row.body_hash != hashed:
                raise OtherBody(
                    "This form was already sent once, with other figures. Nothing was changed now: "
                    "look at what was stored, and open the page again to enter more."
                ) from None
            return Outcome(row.result, replayed=True)
        row.result = do(row)
        row.save(update_fields=["result"])
        return Outcome(row.result, replayed=False)


def answered(*, actor: Any, key: str, body: Mapping[str, Sequence[str]]) -> str:
    """Return what this very form was answered when it came before, or nothing. One query.

    For a form that can't be read a second time because its first sending used up what it chose from.
    """
    row = Submission.objects.filter(actor=actor, key=key, body_hash=body_hash(body)).first() if key else None
    return row.result if row else ""
