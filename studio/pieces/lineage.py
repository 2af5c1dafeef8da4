"""Where a piece comes from: every workpiece it was cut, cast, joined or saved from, up to the lumps."""

from collections import defaultdict, deque
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from studio.wood.models import Certainty
from studio.work.models import Descent, PourColorant, PourFill, StabilizingItem, Workpiece

DEEPEST = 60


@dataclass(frozen=True)
class Wood:
    """One wood of a piece, in words: `how_sure` is empty where the maker is certain or never said."""

    common: str
    botanical: str
    where_it_stood: str
    how_sure: str


@dataclass(frozen=True)
class Resin:
    """One pour: the resin by its name, its colour in the maker's words (else the colorants by name)."""

    system: str
    colour: str


@dataclass(frozen=True)
class Origin:
    woods: tuple[Wood, ...] = ()
    resins: tuple[Resin, ...] = ()
    stabilized: bool = False


@dataclass
class Lineage:
    """Workpieces by key, and for each the links up to what it came of."""

    rows: dict[int, Workpiece] = field(default_factory=dict)
    up: dict[int, list[Descent]] = field(default_factory=lambda: defaultdict(list))

    def ancestors(self, root: int) -> dict[int, datetime | None]:
        """The root and all it came of, each with the time until which its story is the root's (None: for good).

        What happened to a lump after the blank had been cut from it is not the blank's.
        """
        until: dict[int, datetime | None] = {root: None}
        waiting = [root]
        while waiting:
            child = waiting.pop()
            for link in self.up.get(child, ()):
                limit = until[child]
                at = link.at if limit is None else min(limit, link.at)
                known = until.get(link.parent_id)
                if link.parent_id not in until or (known is not None and known < at):
                    until[link.parent_id] = at
                    waiting.append(link.parent_id)
        return until


def lineage(workpiece_ids: Iterable[int]) -> Lineage:
    """Everything these workpieces came of. One query for each generation and one more, whatever their number."""
    found = Lineage()
    wanted = set(workpiece_ids)
    seen = set(wanted)
    for _ in range(DEEPEST):
        links = Descent.objects.filter(child__in=wanted).order_by("pk") if wanted else ()
        wanted = set()
        for link in links:
            found.up[link.child_id].append(link)
            if link.parent_id not in seen:
                wanted.add(link.parent_id)
        seen |= wanted
        if not wanted:
            break
    # not in_bulk: it asks again for each thousand
    rows = Workpiece.objects.select_related("species", "purchase__species").filter(pk__in=seen)
    rows = rows.defer("purchase__paid_micro", "purchase__carriage_micro", "purchase__market_value_micro")
    found.rows = {row.pk: row for row in rows}
    return found


def origins(workpiece_ids: Iterable[int]) -> dict[int, Origin]:
    """Woods, resin and stabilizing of each workpiece, with what it came of. Four queries beside `lineage`."""
    roots = list(workpiece_ids)
    line = lineage(roots)
    fills = defaultdict(list)
    for fill in PourFill.objects.filter(casting__in=line.rows).select_related("pour__system").order_by("pk"):
        fills[fill.casting_id].append(fill)
    pours = {fill.pour_id for held in fills.values() for fill in held}
    colorants = defaultdict(list)
    for row in PourColorant.objects.filter(pour__in=pours).select_related("material").order_by("pk"):
        colorants[row.pour_id].append(row.material.name)
    baths: dict[int, list[datetime]] = defaultdict(list)
    for workpiece, at in StabilizingItem.objects.filter(
        workpiece__in=line.rows, stabilizing__ended_at__isnull=False
    ).values_list("workpiece", "stabilizing__ended_at"):
        if at is not None:
            baths[workpiece].append(at)
    found = {}
    for root in roots:
        older = line.ancestors(root)
        poured = {
            fill.pour_id: Resin(fill.pour.system.name, fill.pour.colour_words or ", ".join(colorants[fill.pour_id]))
            for pk, until in older.items()
            for fill in fills[pk]
            if until is None or fill.pour.at <= until
        }
        soaked = any(until is None or at <= until for pk, until in older.items() for at in baths[pk])
        resins = dict.fromkeys(poured[key] for key in sorted(poured))
        found[root] = Origin(_woods(line, root), tuple(resins), soaked)
    return found


def _woods(line: Lineage, root: int) -> tuple[Wood, ...]:
    """The wood of a blank is what was said of it, where that is not simply what its lump was taken for.

    What was cast or joined of several has the woods of them all, and so has what was cut from it.
    """
    found: dict[Wood, None] = {}
    waiting, seen = deque([root]), {root}
    while waiting:
        pk = waiting.popleft()
        row = line.rows[pk]
        links = line.up.get(pk, [])
        merged = [link.parent_id for link in links if link.how in (Descent.How.CAST, Descent.How.JOIN)]
        if not merged and row.species_id is not None:
            links = [link for link in links if line.rows[link.parent_id].species_id == row.species_id]
        if links:
            # what came two ways of one lump says its wood once, however often it was cut and joined again
            above = dict.fromkeys(merged or [link.parent_id for link in links])
            waiting.extendleft(pk for pk in reversed(above) if pk not in seen)
            seen.update(above)
            continue
        wood = _wood(row)
        if wood is not None:
            found[wood] = None
    return tuple(found)


def _wood(row: Workpiece) -> Wood | None:
    purchase = row.purchase
    species = row.species or (purchase.species if purchase else None)
    if species is None:
        return None
    # what was said of the purchase's wood is not said of another one named since
    same = purchase is not None and (purchase.species_id is None or purchase.species_id == species.pk)
    sure = ""
    if purchase is not None and same and purchase.species_certainty not in ("", Certainty.CERTAIN):
        sure = purchase.get_species_certainty_display()
    return Wood(
        species.common_name,
        species.botanical_name,
        purchase.where_it_stood if purchase else "",
        sure,
    )
