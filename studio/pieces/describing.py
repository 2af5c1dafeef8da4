"""What is said about a piece: its words, its parts, its grade, its pictures and its public address."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from studio.pieces import typed
from studio.pieces.errors import NotAsThingsStand, NotLikeThat
from studio.pieces.models import (
    STORY_LENGTH,
    WORDS_LENGTH,
    Grade,
    Piece,
    PiecePart,
    PiecePicture,
    new_token,
)
from studio.work import operations as work
from studio.work.models import Descent, Workpiece

MOST_PARTS = 12


@dataclass(frozen=True)
class PartSpec:
    """One part in words ("lid"), and the workpiece it was, where that is known."""

    words: str
    workpiece: Workpiece | None = None


def describe_piece(
    *,
    piece: Piece,
    title: str | None = None,
    form: str | None = None,
    finish_words: str | None = None,
    care_words: str | None = None,
    caution_words: str | None = None,
    story: str | None = None,
) -> Piece:
    """Will change what is said about a piece; what is None stays. Care and cautions: a sentence to a line.

    Title and form belong to the workpiece and stay as they are once it has left; the words of the card can
    still be put right then.
    """
    with transaction.atomic():
        row = typed.locked(piece)
        facts: dict[str, Any] = {
            name: kept
            for name, text, most in (("title", title, 200), ("form", form, 60))
            if text is not None and (kept := typed.words(text, name, most=most)) != getattr(row.workpiece, name)
        }
        if facts:
            row = typed.held(piece)
            row.workpiece = work.describe(workpiece=row.workpiece, **facts)
        if finish_words is not None:
            row.finish_words = typed.words(finish_words, "finish_words", most=WORDS_LENGTH)
        if care_words is not None:
            row.care_words = typed.sentences(care_words, "care_words")
        if caution_words is not None:
            row.caution_words = typed.sentences(caution_words, "caution_words")
        if story is not None:
            row.story = typed.story(story, "story", most=STORY_LENGTH)
        row.save()
        return row


def set_parts(*, piece: Piece, parts: Sequence[PartSpec]) -> list[PiecePart]:
    """Will name the parts one can take in the hand, in this order; the earlier list is replaced.

    A workpiece named with a part must have been joined into this piece. Raises with a sentence otherwise.
    """
    if len(parts) > MOST_PARTS:
        raise NotLikeThat(f"At most {MOST_PARTS} parts can be named.", field="parts")
    with transaction.atomic():
        row = typed.locked(piece)
        joined = set(Descent.objects.filter(child=row.workpiece).values_list("parent", flat=True))
        named: set[int] = set()
        for part in parts:
            if part.workpiece is None:
                continue
            if part.workpiece.pk not in joined:
                raise NotLikeThat(
                    f"{part.workpiece.number} was not joined into this piece. Join it first, or name the part "
                    "in words only.",
                    field="parts",
                )
            if part.workpiece.pk in named:
                raise NotLikeThat(f"{part.workpiece.number} is named twice.", field="parts")
            named.add(part.workpiece.pk)
        row.parts.all().delete()
        return PiecePart.objects.bulk_create(
            [
                PiecePart(
                    piece=row,
                    position=position,
                    words=typed.words(part.words, "parts", most=WORDS_LENGTH, missing="Name the part: lid, stand."),
                    workpiece=part.workpiece,
                )
                for position, part in enumerate(parts, start=1)
            ]
        )


def make_second(*, piece: Piece, reason: str) -> Piece:
    """Will grade a piece a second, with what is wrong with it: it is said to whoever buys it."""
    why = typed.words(
        reason, "reason", most=WORDS_LENGTH, missing="Say what is wrong with it, as you would tell a buyer."
    )
    with transaction.atomic():
        row = typed.held(piece)
        row.grade, row.second_why = Grade.SECOND, why
        row.save(update_fields=["grade", "second_why"])
        return row


def make_first(*, piece: Piece) -> Piece:
    """Will take the grade of a second back."""
    with transaction.atomic():
        row = typed.held(piece)
        row.grade, row.second_why = Grade.FIRST, ""
        row.save(update_fields=["grade", "second_why"])
        return row


def choose_card_picture(*, link: PiecePicture) -> PiecePicture:
    """Will put this one of its pictures on the card, and the other one off it."""
    with transaction.atomic():
        typed.locked(link.piece)
        PiecePicture.objects.filter(piece=link.piece_id).update(on_card=False)
        PiecePicture.objects.filter(pk=link.pk).update(on_card=True)
        link.on_card = True
        return link


def take_off_picture(*, link: PiecePicture) -> None:
    """Will take a picture off the piece; another one takes its place on the card.

    The last one of a finished piece stays until another is there: photographed is one of its four ticks.
    """
    with transaction.atomic():
        row = typed.locked(link.piece)
        others = PiecePicture.objects.filter(piece=row).exclude(pk=link.pk)
        if row.finished_at is not None and not others.exists():
            raise NotAsThingsStand("It is the only picture of a finished piece. Add another first.", code="last")
        held = PiecePicture.objects.filter(pk=link.pk, piece=row).first()
        if held is None:
            return
        held.delete()
        heir = others.first()
        if held.on_card and heir is not None:
            PiecePicture.objects.filter(pk=heir.pk).update(on_card=True)
        if heir is None:
            row.photographed_at = None
            row.save(update_fields=["photographed_at"])


def renew_token(*, piece: Piece) -> Piece:
    """Will give the public page a new address. Every code printed before leads nowhere from then on."""
    with transaction.atomic():
        row = typed.locked(piece)
        row.public_token = new_token()
        row.save(update_fields=["public_token"])
        return row
