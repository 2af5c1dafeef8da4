"""Prints cards and tags: each on a page of its own size, or many on A4 or Letter with marks to cut by."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from . import card, document, impose, tag
from .facts import CardFacts, Printed, Recorder, TagFacts, texts_of
from .fonts import BUILDING
from .pen import INK, POINTS, Pen
from .text import Typesetter, clean

Tick = Callable[[int, int], None]
# A lying A6 keeps 9 mm of bare paper round its ink, so four of them may use an A4 sheet up to its edges.
_SHEET_MARGIN = {"a6": 0.0, "id1": 4.5, "tag": 4.5}


@dataclass(frozen=True)
class _Job:
    title: str
    name: str
    size: tuple[float, float]
    facts: Sequence[Any]
    draw: Callable[[Pen, Any], None]


def print_cards(
    cards: Sequence[CardFacts],
    *,
    size: str = "a6",
    paper: str | None = None,
    lang: str = "en",
    tick: Tick | None = None,
    recorder: Recorder | None = None,
) -> Printed:
    """Provenance cards as a PDF: `size` "a6" or "id1", `paper` None (a page a card), "a4" or "letter".

    The same facts give the same bytes. `tick(done, total)` is called after each card; what it raises stops
    the work. Raises AddressTooLong or PictureUnreadable, which say what to do; KeyError for an unknown size.
    """
    measures = card.SIZES[size]
    job = _Job(
        _title("Provenance card", "Provenance cards", cards),
        size,
        (measures.width, measures.height),
        cards,
        lambda pen, facts: card.draw(pen, facts, measures),
    )
    return _print(job, paper, lang, tick, recorder)


def print_tags(
    tags: Sequence[TagFacts],
    *,
    paper: str | None = None,
    lang: str = "en",
    tick: Tick | None = None,
    recorder: Recorder | None = None,
) -> Printed:
    """Hang tags as a PDF, one a page or many on "a4" or "letter"; otherwise as `print_cards`."""
    job = _Job(_title("Tag", "Tags", tags), "tag", (tag.WIDTH, tag.HEIGHT), tags, tag.draw)
    return _print(job, paper, lang, tick, recorder)


def _title(one: str, many: str, facts: Sequence[CardFacts] | Sequence[TagFacts]) -> str:
    if len(facts) == 1:
        return clean(f"{one} {facts[0].signed_number}, {facts[0].title}").strip(" ,")
    return f"{many}, {len(facts)}"


def _print(job: _Job, paper: str | None, lang: str, tick: Tick | None, recorder: Recorder | None) -> Printed:
    sheet = impose.PAPERS[paper] if paper else job.size
    zones = impose.zones(sheet, job.size, margin=_SHEET_MARGIN[job.name] if paper else 0.0)
    places = [place for zone in zones for place in zone.places()]
    out = BytesIO()
    with BUILDING:
        setter = Typesetter(text for facts in job.facts for text in texts_of(facts))
        try:
            author = job.facts[0].studio_name if job.facts else ""
            canvas = document.begin(out, sheet, title=job.title, author=author, lang=lang)
            pen = Pen(canvas, setter, recorder)
            pages = 0
            for first in range(0, len(job.facts), len(places)):
                batch = job.facts[first : first + len(places)]
                if paper:
                    _draw_marks(pen, sheet, impose.occupied(zones, len(batch)), pages)
                for offset, (facts, place) in enumerate(zip(batch, places, strict=False)):
                    _draw_one(pen, job, facts, place, sheet, first + offset, pages)
                    if tick is not None:
                        tick(first + offset + 1, len(job.facts))
                canvas.showPage()
                pages += 1
            canvas.save()
        finally:
            setter.fallbacks.close()
    return Printed(out.getvalue(), pages, setter.missing, tuple(pen.elided))


def _draw_one(
    pen: Pen, job: _Job, facts: Any, place: impose.Place, sheet: tuple[float, float], owner: int, page: int
) -> None:
    canvas = pen.canvas
    canvas.saveState()
    if place.turned:
        canvas.translate(place.right * POINTS, (sheet[1] - place.bottom) * POINTS)
        canvas.rotate(90)
    else:
        canvas.translate(place.left * POINTS, (sheet[1] - place.bottom) * POINTS)
    number = clean(facts.signed_number)
    short = number if len(number) <= 24 else number[:23] + "…"
    label = short or f"no number, {owner + 1} of {len(job.facts)}"
    pen.start(owner=owner, page=page, width=job.size[0], height=job.size[1], label=label)
    job.draw(pen, facts)
    canvas.restoreState()


def _draw_marks(pen: Pen, sheet: tuple[float, float], zones: list[impose.Zone], page: int) -> None:
    pen.start(owner=-1, page=page, width=sheet[0], height=sheet[1], label="sheet")
    for mark in impose.marks(sheet, zones):
        pen.line(mark.x1, mark.y1, mark.x2, mark.y2, weight=0.1, colour=INK)
        left, right, top, bottom = *sorted((mark.x1, mark.x2)), *sorted((mark.y1, mark.y2))
        pen.note("mark", left, top, right, bottom)
