"""One piece: its four ticks, what it cost, what to ask for it, where it is, what is said of it."""

from dataclasses import dataclass
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from studio.fields.quantity import show
from studio.people import queries as people
from studio.people import settings as answers
from studio.people.questions import REGISTRY
from studio.people.roles import allowed
from studio.pieces import queries
from studio.pieces.asking import Way, way
from studio.pieces.curing import not_cured
from studio.pieces.models import Grade, Piece
from studio.pieces.queries import PiecePage
from studio.pricing import queries as pricing
from studio.pricing.likes import LikeSold
from studio.pricing.offers import Offer
from studio.selling import queries as selling
from studio.selling.queries import Where
from studio.web import links
from studio.web.deeds import Reading
from studio.web.drawings import PriceRule, price_rule
from studio.web.paging import paged
from studio.web.saying import in_words
from studio.web.screens.pieces_base import resin_words, size_words, whose_hand
from studio.work import queries as work
from studio.work.models import ClosedAs


@dataclass(frozen=True)
class Act:
    """A thing to press: a link, or with `post` a form of one button that carries a deed out."""

    word: str
    url: str
    post: bool = False


class PieceScreen(Reading):
    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        found = queries.page(pk)
        if found is None:
            raise Http404("There is no such piece.")
        user, piece = request.user, found.piece
        place = selling.where_is([pk])[pk]
        open_here = piece.workpiece.closed_at is None
        context: dict[str, Any] = {
            "section": "pieces",
            "page": found,
            "piece": piece,
            "workpiece": piece.workpiece,
            "place": place,
            "left_words": "" if open_here else left_words(piece, place),
            "sub": sub_sentences(found, user),
            "route": route(found, allowed(user, "bench") and open_here),
            "facts": facts(found),
            "cures": not_cured([piece.workpiece], timezone.now()).get(piece.workpiece_id) if open_here else None,
            "pictures": paged(request, found.pictures, "photographs"),
            "may_bench": allowed(user, "bench"),
            "may_price": allowed(user, "price"),
            "may_print": allowed(user, "print"),
            "may_money": allowed(user, "see_money"),
        }
        if open_here:
            context["next"], context["also"], context["more"] = acts(found, place, user)
        elif piece.way_out and allowed(user, "bench"):
            context["also"] = [Act("It came back", reverse("piece_come_back", args=[pk]))]
        if allowed(user, "see_costs"):
            context |= money_context(found, user)
            context["prices"] = paged(request, context["prices"], "prices")
        return render(request, "pieces/piece.html", context)


def sub_sentences(found: PiecePage, user: Any) -> str:
    """What follows the names of its woods: resin, a second, whose wood, held for whom."""
    said = []
    if words := resin_words(found.origin):
        said.append(words)
    if found.piece.grade == Grade.SECOND:
        said.append(f"A second: {found.piece.second_why}")
    row = found.piece.workpiece
    if row.client_owned:
        said.append("The client’s own wood")
    if row.held:
        said.append(f"Held {row.hold_reason}" if allowed(user, "contacts") else "Held for somebody")
    return " ".join(f"{words[:1].upper()}{words[1:].rstrip('.')}." for words in said)


def route(found: PiecePage, may: bool) -> list[dict[str, Any]]:
    """The four ticks on the graduated rule, each leading to where it is made or made again."""
    piece, pk = found.piece, found.piece.pk
    pictures = len(found.pictures)
    notes = {
        "measured": ", ".join(
            word
            for word in (size_words(piece), show(piece.mass_mg, "mass", unit="g") if piece.mass_mg else "")
            if word
        ),
        "signed": " ".join(
            word for word in (piece.signed_number or "", piece.signed_with if piece.signed_at else "") if word
        ),
        "photographed": f"{in_words(pictures)} {'picture' if pictures == 1 else 'pictures'}" if pictures else "",
        "rested": "",
    }
    screens = {
        "measured": "piece_measure",
        "signed": "piece_sign",
        "photographed": "piece_photograph",
        "rested": "piece_rest",
    }
    missing = piece.ticks_missing
    rows = []
    for tick, screen in screens.items():
        done = tick not in missing
        state = "done" if done else "now" if tick == missing[0] else "later"
        again = tick in ("measured", "photographed")
        url = reverse(screen, args=[pk]) if may and (not done or again) else ""
        rows.append({"word": tick.capitalize(), "state": state, "note": notes[tick], "url": url})
    return rows


NEXT = {
    "measured": ("Measure and weigh it", "piece_measure", False),
    "signed": ("Sign it", "piece_sign", False),
    "photographed": ("Photograph it", "piece_photograph", False),
    "rested": ("It has rested", "piece_rest", True),
}


def acts(found: PiecePage, place: Where, user: Any) -> tuple[Act | None, list[Act], list[Act]]:
    """The one thing to do next, what is usually done beside it, and the rest behind a fold."""
    piece, pk = found.piece, found.piece.pk
    bench, sell = allowed(user, "bench"), allowed(user, "sell")
    also, more, nxt = [], [], None
    if piece.ticks_missing and bench:
        word, screen, post = NEXT[piece.ticks_missing[0]]
        nxt = Act(word, reverse(screen, args=[pk]), post)
    if allowed(user, "price") and not piece.workpiece.client_owned:
        ask = Act("Ask another price" if found.asking_micro else "Set a price", reverse("piece_price", args=[pk]))
        if nxt is None and found.asking_micro is None and not piece.workpiece.held:
            nxt = ask
        else:
            also.append(ask)
        if found.asking_micro:
            more.append(Act("Take it off sale", reverse("piece_withdraw", args=[pk])))
    if sell and piece.is_finished:
        also.append(Act("Sell", links.to("piece_sell", pk)))
        if place.placement is not None:
            also.append(Act("Take it back", links.to("placement_back", place.placement.pk)))
    if allowed(user, "print") and piece.signed_at:
        also.append(Act("Card and tag", links.to("piece_papers", pk)))
    if bench:
        more += bench_acts(piece, place)
    return nxt, [act for act in also if act.url], [act for act in more if act.url]


def bench_acts(piece: Piece, place: Where) -> list[Act]:
    pk = piece.pk
    found = [
        Act("Title, form, finish, care", reverse("piece_describe", args=[pk])),
        Act("Its parts", reverse("piece_parts", args=[pk])),
        Act(
            "It is no second" if piece.grade == Grade.SECOND else "It is a second", reverse("piece_grade", args=[pk])
        ),
        Act("Its pictures", reverse("piece_pictures", args=[pk])),
        Act("Take a tick back", reverse("piece_untick", args=[pk])),
        Act("The bench page", links.to("workpiece", piece.workpiece_id)),
        Act("It broke", links.to("workpiece_broke", piece.workpiece_id)),
    ]
    if place.placement is None and not piece.workpiece.client_owned:
        found.append(Act("Give it away or keep it", reverse("piece_let_go", args=[pk])))
    return found


def facts(found: PiecePage) -> list[tuple[str, str]]:
    """What is said of it on its papers, each with its word."""
    piece = found.piece
    rows = [
        ("Form", piece.form),
        ("Parts", ", ".join(part.words for part in found.parts)),
        ("Size", size_words(piece)),
        ("Weight", show(piece.mass_mg, "mass", unit="g") if piece.mass_mg else ""),
        ("Finish", piece.finish_words),
        ("Care", " ".join(piece.cares)),
        ("To be said", " ".join(piece.cautions)),
    ]
    return [(word, said) for word, said in rows if said]


def money_context(found: PiecePage, user: Any) -> dict[str, Any]:
    """What it cost, what to ask, what like ones fetched, and what was asked before."""
    piece, now = found.piece, timezone.now()
    context: dict[str, Any] = {
        "costs": True,
        "cost": work.cost_table(piece.workpiece),
        "prices": found.prices,
        "asking_micro": found.asking_micro,
    }
    if piece.workpiece.closed_at is not None or piece.workpiece.client_owned:
        return context
    on, hand = answers.local_date(now), whose_hand(user)
    says = way(on)
    offer = pricing.offer(piece, on=on, now=now, person=hand)
    wage = people.wages_on(on, [hand]).get(hand.pk)
    return context | {
        "offer": offer,
        "says": says,
        "rule": rule_of(offer, says, earns_words(offer, wage.rate_micro if wage else None)),
        "missing": [(key, REGISTRY[key].asks) for key in offer.missing],
        "may_settings": allowed(user, "settings"),
        "like": offer.like,
        "like_words": like_words(offer.like),
        "coming_micro": offer.to_come.all_in_micro + offer.allowance_to_come_micro,
    }


def rule_of(offer: Offer, says: Way, earns: str = "") -> PriceRule | None:
    """Lowest ask, price asked and what like pieces fetched, drawn on the rule as the studio says prices."""
    fetched = offer.like.prices if offer.like else None
    return price_rule(
        lowest=None if offer.lowest_ask_micro is None else says.shown(offer.lowest_ask_micro),
        ask=None if offer.asking_micro is None else says.shown(offer.asking_micro),
        like_low=says.shown(fetched.lowest) if fetched else None,
        like_mid=says.shown(fetched.middle) if fetched else None,
        like_high=says.shown(fetched.highest) if fetched else None,
        like_count=fetched.count if fetched else 0,
        earns=earns,
    )


def earns_words(offer: Offer, wage_micro: int | None) -> str:
    """`earns 32.56 an hour, wage 28.00` at the price asked; empty where it can't be said."""
    if offer.wage_micro is None:
        return ""
    said = f"earns {show(offer.wage_micro, 'money')} an hour"
    return f"{said}, wage {show(wage_micro, 'money')}" if wage_micro else said


def like_words(like: LikeSold | None) -> str:
    """How fast like pieces sold, those still standing counted in."""
    if like is None:
        return ""
    unsold = f"{in_words(like.unsold)} unsold {'is' if like.unsold == 1 else 'are'} counted in"
    if like.median_months is None:
        return f"Too few of them have sold to say how long one stands; the {unsold}." if like.unsold else ""
    within = "a month" if like.median_months == 1 else f"{in_words(like.median_months)} months"
    return f"Half of such pieces sell within {within}" + (f"; the {unsold}." if like.unsold else ".")


def left_words(piece: Piece, place: Where) -> str:
    """How it left, for the note on top of the page."""
    if place.kind == "sold":
        return place.words
    if piece.workpiece.closed_as == ClosedAs.LEFT and piece.way_out:
        return str(piece.get_way_out_display())
    return place.words


urlpatterns = [path("pieces/<int:pk>/", PieceScreen.as_view(), name="piece")]
