"""What a card or a tag says of a piece, taken from its page; and the printing of them by their keys."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from studio.fields.quantity import show
from studio.papers.facts import CardFacts, Printed, TagFacts, WoodFact
from studio.people import settings as answers
from studio.pieces import queries
from studio.pieces.asking import Way, way
from studio.pieces.lineage import Origin, Wood
from studio.pieces.models import Grade, Piece
from studio.pieces.queries import PiecePage

PAPERS = {"a6": "Provenance card, A6", "id1": "Provenance card, as small as a bank card", "tag": "Hang tag"}
SHEETS = {
    "": "Each on a page of its own size",
    "a4": "A4 with marks to cut by",
    "letter": "Letter with marks to cut by",
}
# Where the studio's own address leads on to: the path of the public page (the web room's test holds the two equal).
PUBLIC_PATH = "/p/{token}/"


@dataclass(frozen=True)
class Studio:
    """What every paper of this studio says, read once."""

    name: str
    maker: str
    base_url: str
    says: Way

    @classmethod
    def now(cls, on: Any) -> "Studio":
        """As it is settled on a day. Two queries, none where remembered."""
        held = answers.answers()
        return cls(
            name=held.holding("studio_name", None) or "",
            maker=held.holding("maker_name", None) or "",
            base_url=(held.holding("base_url", None) or "").rstrip("/"),
            says=way(on),
        )


def size_words(thing: Any) -> str:
    """`148 mm across, 92 mm high`: whatever was measured, as one would say it."""
    said = []
    if thing.diameter_um:
        said.append(f"{show(thing.diameter_um, 'length')} across")
    if thing.length_um and thing.width_um:
        said.append(f"{show(thing.length_um, 'length')} by {show(thing.width_um, 'length')}")
    elif thing.length_um or thing.width_um:
        said.append(f"{show(thing.length_um or thing.width_um, 'length')} long")
    if thing.height_um:
        said.append(f"{show(thing.height_um, 'length')} high")
    return ", ".join(said)


def weight_words(mass_mg: int | None) -> str:
    return show(mass_mg, "mass", unit="g") if mass_mg else ""


def resin_words(origin: Origin) -> str:
    """In plain words what beside wood is in it: the colour of each pour, and whether the wood was stabilized."""
    said = [f"Resin, coloured {resin.colour}" if resin.colour else "Resin without colour" for resin in origin.resins]
    if origin.stabilized:
        said.append("the wood is hardened through with resin" if said else "Hardened through with resin")
    return "; ".join(said)


def wood_facts(woods: Iterable[Wood]) -> tuple[WoodFact, ...]:
    return tuple(
        WoodFact(
            wood.common,
            wood.botanical,
            wood.where_it_stood,
            f"The species is {wood.how_sure}" if wood.how_sure else "",
        )
        for wood in woods
    )


def public_url(piece: Piece, base_url: str) -> str:
    """Where the square code leads: on the studio's own address, never the one a request came by. Empty where no
    address is settled or the piece isn't signed yet."""
    return base_url + PUBLIC_PATH.format(token=piece.public_token) if base_url and piece.signed_at else ""


def year_of(piece: Piece) -> str:
    if piece.signed_on:
        return str(piece.signed_on.year)
    return str(answers.local_date(piece.finished_at).year) if piece.finished_at else ""


def form_words(found: PiecePage) -> str:
    """The form, and its parts where it has more than one."""
    parts = [part.words for part in found.parts]
    form = found.piece.form
    return f"{form}: {', '.join(parts)}" if form and parts else form or ", ".join(parts)


def card_facts(found: PiecePage, studio: Studio) -> CardFacts:
    """A provenance card. The picture is the one chosen for it, where its file is there."""
    piece, link = found.piece, found.card_picture
    path = link.picture.path() if link else None
    return CardFacts(
        signed_number=piece.signed_number or "",
        title=piece.title,
        working_number=piece.workpiece.number,
        form=_capital(form_words(found)),
        woods=wood_facts(found.origin.woods),
        resin_words=resin_words(found.origin),
        size_words=size_words(piece),
        weight_words=weight_words(piece.mass_mg),
        year=year_of(piece),
        maker=studio.maker,
        studio_name=studio.name,
        finish=_capital(piece.finish_words),
        care=piece.cares,
        cautions=piece.cautions,
        public_url=public_url(piece, studio.base_url),
        picture_path=path if path and path.exists() else None,
        note=f"A second: {piece.second_why}" if piece.grade == Grade.SECOND else "",
    )


def tag_facts(found: PiecePage, studio: Studio, *, price: bool = False) -> TagFacts:
    """A hang tag. The price, where it is wanted and asked, is the one a shopper pays where tax is shown with it."""
    piece = found.piece
    return TagFacts(
        signed_number=piece.signed_number or "",
        title=piece.title,
        form=_capital(piece.form),
        woods=wood_facts(found.origin.woods),
        size_words=size_words(piece),
        year=year_of(piece),
        maker=studio.maker,
        studio_name=studio.name,
        price_words=price_words(found.asking_micro, studio.says) if price else "",
        cautions=piece.cautions,
        public_url=public_url(piece, studio.base_url),
    )


def price_words(asking_micro: int | None, says: Way) -> str:
    if asking_micro is None:
        return ""
    return show(says.shown(asking_micro), "money", with_unit=True)


def print_pieces(
    pks: Sequence[int],
    *,
    what: str,
    on: Any,
    paper: str = "",
    price: bool = False,
    tick: Callable[[int, int], None] | None = None,
) -> Printed:
    """Cards ("a6", "id1") or tags ("tag") of these pieces in this order, each alone or on "a4" or "letter".

    Keys nobody knows are left out. `tick(done, total)` is called after each; what it raises stops the work.
    Raises as `sheet.print_cards`. Twelve queries, however many pieces.
    """
    from studio.papers.sheet import print_cards, print_tags

    studio, found = Studio.now(on), queries.pages(pks)
    pages = [found[pk] for pk in dict.fromkeys(pks) if pk in found]
    if what == "tag":
        tags = [tag_facts(one, studio, price=price) for one in pages]
        return print_tags(tags, paper=paper or None, tick=tick)
    cards = [card_facts(one, studio) for one in pages]
    return print_cards(cards, size=what, paper=paper or None, tick=tick)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
