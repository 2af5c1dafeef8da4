"""What lies in an oven: to be weighed, or out with it, by the verdict of each one's own page."""

from collections.abc import Iterable
from datetime import datetime

from studio.equipment.models import LoadPlace, Purpose
from studio.work.models import Workpiece
from studio.work.queries.bench_waits import BenchWait, bench_wait, tag_of
from studio.work.queries.verdicts import Told, told_of


def in_the_oven(now: datetime, only: int | None = None) -> Iterable[BenchWait]:
    """What dries or seasons in a machine now; `only` one workpiece of it. Six queries, no money."""
    inside = LoadPlace.objects.inside()
    places = list(
        (inside if only is None else inside.filter(account__workpiece=only))
        .filter(load__ended_at=None, load__purpose__in=[Purpose.DRY, Purpose.SEASON])
        .select_related("load__machine", "account__workpiece__species", "account__workpiece__purchase")
        .defer(
            "account__value_micro",
            "account__workpiece__purchase__paid_micro",
            "account__workpiece__purchase__carriage_micro",
            "account__workpiece__purchase__market_value_micro",
        )
        .order_by("load", "account__workpiece__sort_key")
    )
    told = told_of([place.account.workpiece for place in places], now)
    out: dict[int, list[tuple[LoadPlace, Told]]] = {}
    for place in places:
        piece = place.account.workpiece
        found = told[piece.pk]
        if found.done:
            out.setdefault(place.load_id, []).append((place, found))
            continue
        last = max(place.put_in_at, found.last or place.put_in_at)
        reason = f"{wood_of(piece)}, {found.words}" if wood_of(piece) else found.words
        about = ("work.weigh", piece.pk)
        yield bench_wait("oven", "weigh", [tag_of(piece)], "since", last, reason, about, load=place.load_id)
    for load, rows in out.items():
        yield _out_of(load, rows)


def _out_of(load: int, rows: list[tuple[LoadPlace, Told]]) -> BenchWait:
    words = {found.words for _, found in rows}
    said = words.pop() if len(words) == 1 else "dry or steady by their weights"
    at = min((found.since for _, found in rows if found.since), default=None)
    tags = [tag_of(place.account.workpiece) for place, _ in rows]
    reason = f"{said}, in {rows[0][0].load.machine.name}"
    return bench_wait("oven", "take out", tags, "since", at, reason, ("equipment.load", load), load=load)


def wood_of(piece: Workpiece) -> str:
    """Elm burr: the wood in two words; nothing where it has no name yet."""
    kind = piece.get_wood_kind_display() if piece.wood_kind not in ("", "plain") else ""
    return " ".join(word for word in (str(piece.species or ""), kind) if word)
