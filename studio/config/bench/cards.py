"""Provenance cards printed, beside the same words and codes drawn with no thought for where they fall."""

import time
from dataclasses import replace

from django.utils import timezone

from studio.config.bench.told import Figure, seconds
from studio.fields import formats
from studio.papers.bare import draw_bare
from studio.papers.from_pieces import Studio, card_facts, print_pieces
from studio.papers.sheet import print_cards
from studio.people import settings as answers
from studio.pieces import queries
from studio.pieces.models import Piece


def figures(count: int) -> list[Figure]:
    pks = list(Piece.objects.filter(signed_at__isnull=False).order_by("pk").values_list("pk", flat=True)[:count])
    today = answers.local_date(timezone.now())
    with answers.remembered(), formats.use(answers.formats()):
        pages, studio = queries.pages(pks), Studio.now(today)
        facts = [replace(card_facts(pages[pk], studio), picture_path=None) for pk in pks]
        draw_bare(facts[:1]), print_cards(facts[:1], size="a6", paper="a4")  # libraries and fonts come in once
        bare_s = _taken(lambda: draw_bare(facts))
        ours_s = _taken(lambda: print_cards(facts, size="a6", paper="a4"))
        whole_s = _taken(lambda: print_pieces(pks, what="a6", paper="a4", on=today))
    many = f"{len(pks)} cards"
    return [
        Figure(f"{many}, words and codes", seconds(ours_s), seconds(bare_s), "A6, four on a sheet"),
        Figure(f"{many}, looked up, with photographs", seconds(whole_s), "", "from keys to file"),
    ]


def _taken(do: object) -> float:
    began = time.perf_counter()
    do()  # type: ignore[operator]
    return time.perf_counter() - began
