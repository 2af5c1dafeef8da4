"""What a piece must bring, what is asked for it, and what an hour of the maker's own then earns.

This room computes and keeps nothing: prices asked lie with the pieces, prices paid with the sales.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from studio.craft import pricing as craft
from studio.fields.errors import Refused
from studio.ledger import queries as ledger
from studio.ledger.accounts import Component
from studio.ledger.queries import Cost
from studio.people import settings as studio_settings
from studio.people.models import User
from studio.pieces.finishing import allowance_still_owed
from studio.pieces.lineage import lineage
from studio.pieces.models import Piece
from studio.pricing.coming import Coming, coming
from studio.pricing.hours import own_seconds
from studio.pricing.likes import LikeSold, likes
from studio.work.models import Workpiece
from studio.work.queries.cost import ToCome

# What a lowest ask rests on; each is asked for where nobody has answered it yet.
ASKED = ("gallery_share_ppm", "card_fee_ppm", "cost_to_sell_micro", "loss_allowance_ppm")


class HasLeft(Refused):
    """Nothing is asked any more for what was sold, lost, cut up, joined or given away."""


@dataclass(frozen=True)
class Terms:
    """What comes off a price: the gallery's share, the card, the cost of selling. None: nobody has said."""

    share_ppm: int | None
    card_ppm: int | None
    cost_to_sell_micro: int | None
    allowance_ppm: int | None
    missing: tuple[str, ...]

    @property
    def usable(self) -> bool:
        """Whether everything is said and something is left of a price."""
        return not self.missing and (self.share_ppm or 0) + (self.card_ppm or 0) < craft.ALL

    def lowest_ask(self, all_in_micro: int, coin_micro: int) -> int | None:
        """The price that just loses nothing, raised to a whole coin; None where there is no such price."""
        if not self.usable:
            return None
        exact = craft.lowest_ask(all_in_micro, self.cost_to_sell_micro or 0, self.share_ppm or 0, self.card_ppm or 0)
        return craft.up_to(exact, coin_micro)


@dataclass(frozen=True)
class Offer:
    """One workpiece or piece with what it costs and must bring. Money in millionths, before tax.

    `missing` names the questions that must be answered before there is a lowest ask; without them, or where
    share and card leave nothing of a price, `lowest_ask_micro` is None and nothing is called below it.
    """

    workpiece: Workpiece
    piece: Piece | None
    so_far: Cost
    to_come: ToCome
    allowance_to_come_micro: int
    paid_out_micro: int
    all_in_micro: int
    own_labour_micro: int
    own_seconds: int
    terms: Terms
    lowest_ask_micro: int | None
    asking_micro: int | None
    like: LikeSold | None

    @property
    def missing(self) -> tuple[str, ...]:
        return self.terms.missing

    @property
    def below_lowest(self) -> bool:
        """Whether less is asked than it must bring."""
        return (
            self.asking_micro is not None
            and self.lowest_ask_micro is not None
            and self.asking_micro < self.lowest_ask_micro
        )

    @property
    def wage_micro(self) -> int | None:
        """What an hour earns at the price asked."""
        return None if self.asking_micro is None else self.earns(self.asking_micro)

    @property
    def wage_at_lowest_micro(self) -> int | None:
        return None if self.lowest_ask_micro is None else self.earns(self.lowest_ask_micro)

    def earns(self, price_micro: int) -> int | None:
        """What an hour of the maker's own earns at a price, the share and every other cost off.

        None where no hour of his own is in it, or a figure is missing.
        """
        terms = self.terms
        if not terms.usable or not self.own_seconds:
            return None
        others = self.all_in_micro - self.own_labour_micro + (terms.cost_to_sell_micro or 0)
        return craft.wage_per_hour(price_micro, terms.share_ppm or 0, terms.card_ppm or 0, others, self.own_seconds)


def offer(
    subject: Workpiece | Piece,
    *,
    on: date,
    now: datetime,
    person: User,
    share_ppm: int | None = None,
    card_ppm: int | None = None,
    cost_to_sell_micro: int | None = None,
    must_know: bool = False,
) -> Offer:
    """One offer; see `offers`. With `must_know` raises `MissingSetting` for the first answer that is wanting.

    Raises `HasLeft` for what has left the bench.
    """
    terms = terms_on(on, share_ppm=share_ppm, card_ppm=card_ppm, cost_to_sell_micro=cost_to_sell_micro)
    if must_know and terms.missing:
        raise studio_settings.MissingSetting(terms.missing[0])
    return offers([subject], on=on, now=now, person=person, terms=terms)[0]


def terms_on(
    on: date,
    *,
    share_ppm: int | None = None,
    card_ppm: int | None = None,
    cost_to_sell_micro: int | None = None,
) -> Terms:
    """What comes off a price on a day: as given, else as the studio has settled it. One query."""
    held = studio_settings.answers()
    given = {"gallery_share_ppm": share_ppm, "card_fee_ppm": card_ppm, "cost_to_sell_micro": cost_to_sell_micro}
    said = {key: given[key] if given.get(key) is not None else held.holding(key, on) for key in ASKED}
    missing = tuple(key for key in ASKED if said[key] is None)
    return Terms(
        said["gallery_share_ppm"],
        said["card_fee_ppm"],
        said["cost_to_sell_micro"],
        said["loss_allowance_ppm"],
        missing,
    )


def offers(
    subjects: Iterable[Workpiece | Piece],
    *,
    on: date,
    now: datetime,
    person: User,
    terms: Terms | None = None,
    compared: bool = True,
) -> list[Offer]:
    """What each of these costs when finished, the lowest ask, what is asked, and what an hour earns.

    Lowest ask = (all in when finished + cost to sell) / (1 − share − card rate), before tax, raised to the next
    whole coin. When finished = so far + the steps still to come at `person`'s usual time and wage + the share
    of lost pieces still to be charged. The same number of queries for one and for a thousand (one more for
    each generation back to the lumps). Unless `compared`, `like` stays None: each is compared with all, so a list
    asks `likes` for the page it shows. Raises `HasLeft` where one has left the bench.
    """
    rows = [one.workpiece if isinstance(one, Piece) else one for one in subjects]
    for row in rows:
        if row.closed_at is not None:
            raise HasLeft(f"{row.number} has left the bench; nothing is asked for it any more.")
    terms = terms or terms_on(on)
    made = {
        piece.workpiece_id: piece
        for piece in Piece.objects.with_asking().filter(workpiece__in=rows).select_related("workpiece")
    }
    costs = ledger.costs_of([row.account_id for row in rows])
    ahead = coming(rows, person=person, on=on)
    hours = own_seconds(lineage(row.pk for row in rows), [row.pk for row in rows], on)
    alike = likes(made.values(), now) if compared else {}
    coin = studio_settings.coin_micro()
    found = []
    for row in rows:
        piece = made.get(row.pk)
        so_far, still = costs.get(row.account_id, Cost({})), ahead[row.pk]
        allowance = _allowance_to_come(piece, so_far, still, terms)
        all_in = so_far.all_in + still.to_come.all_in_micro + allowance
        found.append(
            Offer(
                workpiece=row,
                piece=piece,
                so_far=so_far,
                to_come=still.to_come,
                allowance_to_come_micro=allowance,
                paid_out_micro=so_far.paid_out + still.to_come.paid_out_micro,
                all_in_micro=all_in,
                own_labour_micro=so_far.parts.get(Component.OWN_LABOUR, 0) + still.own_labour_micro,
                own_seconds=hours[row.pk] + still.own_seconds,
                terms=terms,
                lowest_ask_micro=terms.lowest_ask(all_in, coin),
                asking_micro=getattr(piece, "asking_micro", None),
                like=alike.get(piece.pk) if piece else None,
            )
        )
    return found


def _allowance_to_come(piece: Piece | None, so_far: Cost, still: Coming, terms: Terms) -> int:
    """Nothing once it is finished: it was charged then, once."""
    if piece is not None and piece.finished_at is not None:
        return 0
    paid = so_far.parts.get(Component.ALLOWANCE, 0)
    return allowance_still_owed(so_far.all_in + still.to_come.all_in_micro, paid, terms.allowance_ppm or 0)
