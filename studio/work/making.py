"""Making a workpiece row: number, account, planned steps. Shared by every operation that brings one into being."""

import re
from collections.abc import Iterable, Sequence
from datetime import datetime

from django.db.models import F

from studio.fields.listing import listed
from studio.ledger.accounts import Kind
from studio.ledger.operations import open_account
from studio.work.errors import NotOnTheBench, NumberTaken
from studio.work.models import ClosedAs, Descent, Stage, Step, StepCode, Workpiece

USUAL_ROUTE: dict[str, tuple[StepCode, ...]] = {
    Stage.LUMP: (StepCode.CLEAN,),
    Stage.BLANK: (
        StepCode.CLEAN,
        StepCode.DRY,
        StepCode.STABILIZE,
        StepCode.CAST,
        StepCode.TURN,
        StepCode.FINISH,
    ),
    Stage.CASTING: (StepCode.CAST, StepCode.TURN, StepCode.FINISH),
    Stage.PART: (StepCode.TURN, StepCode.FINISH),
    Stage.PIECE: (StepCode.FINISH,),
}
NUMBER_LIMIT = 40
CAME_OF_IT = {
    ClosedAs.CUT: (Descent.How.CUT,),
    ClosedAs.JOINED: (Descent.How.JOIN, Descent.How.CAST),
}
WHAT_NOW: dict[str, str] = {
    ClosedAs.LOST: "If it isn't lost after all, say so on the page of its loss; else look at the number again.",
    ClosedAs.SOLD: "If it came back, take the sale back on its page; else look at the number again.",
    ClosedAs.LEFT: "If it came back, say so on the page of the piece; else look at the number again.",
    ClosedAs.RETURNED: "If its owner brought it again, take it in as wood of theirs; else look at the number again.",
}
_RUNS = re.compile(r"(\d+)")


def sort_key(number: str) -> str:
    """Numbers in the order one would file them: 9 before 41, 41/3 before 41/3b before 41/10."""
    padded = _RUNS.sub(lambda run: run.group(1).zfill(6)[-12:], number.casefold())
    return padded[:80]


def search_text(workpiece: Workpiece) -> str:
    """What a search looks through, casefolded, since SQLite's LIKE folds ASCII only."""
    words = [workpiece.number, workpiece.title, workpiece.form]
    if workpiece.species:
        words += [workpiece.species.common_name, workpiece.species.botanical_name]
    return " ".join(word for word in words if word).casefold()[:600]


def make(*, number: str, stage: str, made_at: datetime, route: Iterable[str] | None = None, **facts) -> Workpiece:  # type: ignore[no-untyped-def]
    """A new workpiece with an account of its own and its usual steps ahead of it."""
    number = check_number(number)
    piece = Workpiece(
        number=number,
        sort_key=sort_key(number),
        account=open_account(Kind.WORKPIECE),
        stage=stage,
        made_at=made_at,
        **facts,
    )
    piece.search_text = search_text(piece)
    piece.save(force_insert=True)
    add_steps(piece, USUAL_ROUTE[stage] if route is None else route)
    return piece


def check_number(number: str) -> str:
    number = " ".join(number.split())
    if not number:
        raise NumberTaken("A workpiece wants a number, as you would pencil it on the wood.", field="number")
    if len(number) > NUMBER_LIMIT:
        raise NumberTaken(f"A number has at most {NUMBER_LIMIT} letters and figures.", field="number")
    if Workpiece.objects.filter(number=number).exists():
        raise NumberTaken(
            f"{number} is taken already. Give another, or leave the field as it was offered.", field="number"
        )
    return number


def add_steps(workpiece: Workpiece, codes: Iterable[str]) -> None:
    Step.objects.bulk_create(
        [
            Step(workpiece=workpiece, code=code, position=position)
            for position, code in enumerate(codes, start=1)
        ]
    )


def held_rows(workpieces: Sequence[Workpiece]) -> list[Workpiece]:
    """Fresh rows, locked in key order, in the order asked for. Raises when one has left the bench."""
    keys = sorted({piece.pk for piece in workpieces})
    # `of` keeps PostgreSQL from locking the outer side of the nullable joins
    rows = {
        row.pk: row
        for row in Workpiece.objects.select_for_update(of=("self",))
        .select_related("account", "species")
        .filter(pk__in=keys)
        .order_by("pk")
    }
    ordered = [rows[piece.pk] for piece in workpieces]
    for row in ordered:
        refuse_closed(row)
    return ordered


def refuse_closed(workpiece: Workpiece) -> None:
    if workpiece.closed_at is not None:
        raise NotOnTheBench(f"{gone_words(workpiece)} Nothing was changed.")


def gone_words(workpiece: Workpiece) -> str:
    """How a workpiece left the bench, and what to do about it."""
    number, how = workpiece.number, workpiece.get_closed_as_display()
    return f"{number} is no longer on the bench: it was {how}. {_what_now(workpiece)}"


def _what_now(workpiece: Workpiece) -> str:
    if workpiece.closed_as in CAME_OF_IT:
        links = workpiece.children_links.select_related("child").order_by("pk")
        numbers = [link.child.number for link in links if link.how in CAME_OF_IT[ClosedAs(workpiece.closed_as)]]
        if numbers:
            return f"Take what came of it: {listed(numbers, 'or')}."
    return WHAT_NOW.get(workpiece.closed_as, "Look at the number on the wood again.")


def next_position(workpiece: Workpiece) -> int:
    last = Step.objects.filter(workpiece=workpiece).order_by(F("position").desc()).first()
    return (last.position if last else 0) + 1
