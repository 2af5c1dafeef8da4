"""How a row in another room points at its entry without knowing the journal's models."""

from django.db import models

from studio.ledger.journal import Entry


class EntryKey(models.ForeignKey):
    """A protected key to the journal entry that a row caused."""

    def __init__(self, **kwargs) -> None:  # type: ignore[no-untyped-def]
        kwargs.setdefault("to", Entry)
        kwargs.setdefault("on_delete", models.PROTECT)
        kwargs.setdefault("related_name", "+")
        super().__init__(**kwargs)
