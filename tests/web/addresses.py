"""Every address of the studio: what fills it in the small studio, and who may open it and send to it.

Letters are roles: o owner, m maker, b bookkeeper, v visitor; `*` is anybody, signed in or not. Written by hand,
so that a slip in a screen is seen: a new address that is not listed here fails the test of roles.
"""

from collections.abc import Callable, Iterator
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests.web.small_studio import SmallStudio

ALL, COST, MONEY, BENCH, OWNER, NOBODY = "ombv", "omb", "ob", "om", "o", ""

# (who may open it, who may send to it): the addresses.
TABLE: dict[tuple[str, str], tuple[str, ...]] = {
    ("*", "*"): ("sign_in", "set_up"),
    ("*", NOBODY): ("come-in", "public_piece", "public_picture"),
    (NOBODY, ALL): ("sign_out",),
    (ALL, NOBODY): (
        "round", "bench", "workpiece", "lost_numbers", "loss", "wood", "species_list", "species", "stores",
        "material", "batch", "resin", "bath", "equipment", "machine", "moulds", "mould_poured", "load", "pour",
        "stabilizing", "finishes", "finish_run",
        "pieces", "piece", "machine_diary", "lathe_card",
        "galleries", "gallery", "help", "help_page", "own", "picture",
    ),
    (ALL, ALL): ("own_password",),
    (COST, NOBODY): (
        "losses", "entry", "prices", "clients", "client", "suppliers", "supplier", "commissions", "commission",
        "papers", "print_job", "print_file", "piece_papers", "papers_pdf",
    ),
    (COST, COST): (
        "client_add", "client_change", "client_erase", "supplier_add", "supplier_change", "supplier_erase",
        "material_count", "batch_count", "bath_count", "papers_sheet", "print_stop", "piece_new_address",
    ),
    (MONEY, NOBODY): ("books", "books_csv", "year", "year_csv", "journal", "sales", "sale"),
    (MONEY, MONEY): (
        "bill_pay", "books_close", "entry_reverse", "gallery_add", "gallery_change", "gallery_terms", "gallery_close",
        "gallery_leave", "gallery_payment", "gallery_give_back", "placement_back", "payment_undo", "piece_sell",
        "sale_take_back", "client_payment", "client_give_back", "commission_deposit", "commission_deposit_back",
        "commission_deliver", "commission_delivery_back",
    ),
    (BENCH, NOBODY): ("piece_pictures", "pour_plan", "pour_mix", "pour_sheet"),
    (ALL, BENCH): ("purchase",),
    (BENCH, BENCH): (
        "piece_become", "piece_measure", "piece_sign", "piece_photograph", "piece_rest", "piece_untick",
        "piece_describe", "piece_parts", "piece_grade", "piece_price", "piece_withdraw", "piece_let_go",
        "piece_come_back", "piece_picture_card", "piece_picture_off", "commission_add", "commission_agree",
        "commission_change", "commission_reserve", "commission_let_go", "commission_call_off", "workpiece_weigh",
        "workpiece_bag", "workpiece_unbag", "workpiece_fog", "workpiece_wood_note", "wood_note_take_back",
        "workpiece_cast_anyway",
        "weighing_strike", "workpiece_hours", "workpiece_describe", "workpiece_use", "workpiece_picture",
        "workpiece_hold", "workpiece_give_back", "workpiece_step", "workpiece_steps", "workpiece_unnumbered",
        "number_found", "workpiece_cut", "workpiece_join", "clock_start", "clock_stop", "hours_take_back",
        "workpiece_broke", "loss_picture", "loss_salvage", "loss_seen_to", "loss_take_back", "wood_take_in",
        "wood_take_in_client", "purchase_bill", "purchase_picture", "species_add", "species_change",
        "material_add", "material_buy", "material_use", "material_change", "batch_open", "batch_write_off",
        "batch_bill", "batch_price", "resin_add",
        "resin_change", "bath_add", "bath_fill", "bath_throw_away", "bath_close", "machine_add", "machine_change",
        "machine_diary_begin", "machine_diary_add", "upkeep_change", "upkeep_drop", "upkeep_done", "upkeep_take_back",
        "lathe_mount", "lathe_start",
        "machine_retire", "machine_bring_back", "mould_add", "mould_change", "mould_retire", "load_start",
        "load_put_in", "load_change", "load_take_out", "load_end", "load_take_back", "pour_book", "demould",
        "pour_cup", "casting_seen",
        "pour_typed", "load_gauge",
        "pour_ready", "pour_held", "pour_coat", "pour_room", "pour_thickened", "stabilize_start",
        "stabilizing_drained", "stabilizing_baked", "weigh_round",
        "finish_add", "finish_change", "finish_retire", "finish_put_on", "finish_line", "finish_lines", "finish_back",
        "finish_take_off", "rags_in", "rags_out",
        "stabilizing_note", "stabilizing_take_back", "stabilizing_brushed", "stabilizing_brushed_back", "bath_tell",
        "workpiece_bag", "workpiece_unbag", "workpiece_fog", "workpiece_wood_note", "wood_note_take_back",
        "workpiece_cast_anyway",
    ),
    (OWNER, NOBODY): ("people", "person", "settings"),
    (OWNER, OWNER): (
        "person_add", "person_name", "person_role", "person_wage", "person_password", "person_close", "person_open",
        "setting",
    ),
}  # fmt: skip
WHO: dict[str, tuple[str, str]] = {name: who for who, names in TABLE.items() for name in names}

Fill = Callable[[SmallStudio], dict[str, Any]]
FILLS: dict[str, Fill] = {
    "come-in": lambda small: {"token": "spent"},
    "picture": lambda small: {"name": small.picture.name, "size": "small"},
    "public_piece": lambda small: {"token": small.piece.public_token},
    "public_picture": lambda small: {"token": small.piece.public_token, "number": 0, "size": "small"},
    "entry": lambda small: {"pk": small.pour.entry_id},
    "entry_reverse": lambda small: {"pk": small.entry},
    "help_page": lambda small: {"slug": "formulas"},
    "setting": lambda small: {"key": "tariff_micro"},
    "clock_stop": lambda small: {"pk": small.clock.pk},
    "hours_take_back": lambda small: {"pk": small.hours.pk},
    "workpiece_step": lambda small: {"pk": small.blanks[3].pk, "code": "dry", "what": "done"},
    "workpiece_wood_note": lambda small: {"pk": small.blanks[3].pk, "kind": "bark_off"},
    "wood_note_take_back": lambda small: {
        "pk": small.blanks[3].wood_events.get_or_create(kind="sealed", defaults={"at": small.blanks[3].made_at})[0].pk
    },
    "stabilizing_note": lambda small: {"pk": small.stabilizing.pk, "what": "under"},
    "stabilizing_take_back": lambda small: {"pk": small.stabilizing.pk, "what": "under"},
    "upkeep_take_back": lambda small: {
        "pk": small.oven.upkeep.first().done.get_or_create(
            words="trips at 210", defaults={"at": small.oven.added_at, "by": small.owner}
        )[0].pk
    },
    "finish_run": lambda small: {"pk": small.finish_run.pk},
    "finish_take_off": lambda small: {"pk": small.finish_run.pk},
    "finish_line": lambda small: {"pk": small.finish_run.pk, "line": small.finish_coat.pk},
    "finish_lines": lambda small: {"pk": small.finish_coat.pk},
    "finish_back": lambda small: {"pk": small.finish_run.done.get().pk},
    "weighing_strike": lambda small: {"pk": small.casting.weighings.first().pk},
    "commission_let_go": lambda small: {"pk": small.commission.pk, "workpiece": small.ordered.workpiece_id},
    "load_take_out": lambda small: {"pk": small.load.pk, "place": small.load.places.get().pk},
    "piece_become": lambda small: {"pk": small.blanks[1].pk},
    "placement_back": lambda small: {"pk": small.away.placements.get().pk},
    "payment_undo": lambda small: {"pk": small.payment.pk},
    "piece_picture_card": lambda small: {"pk": small.piece.pictures.get().pk},
    "piece_picture_off": lambda small: {"pk": small.piece.pictures.get().pk},
    "workpiece_give_back": lambda small: {"pk": small.theirs.pk},
    "number_found": lambda small: {"pk": small.whole.pk},
    "load_take_back": lambda small: {"pk": small.load_ended.pk},
    "piece_come_back": lambda small: {"pk": small.gift.pk},
    "print_job": lambda small: {"pk": small.job.pk},
    "print_stop": lambda small: {"pk": small.job.pk},
    "print_file": lambda small: {"pk": small.job.pk},
}
# What the beginning of a name says its key is of; the longest beginning counts.
KEYS: dict[str, Callable[[SmallStudio], int]] = {
    "person": lambda small: small.people["maker"].pk,
    "piece": lambda small: small.piece.pk,
    "gallery": lambda small: small.gallery.pk,
    "sale": lambda small: small.sale.pk,
    "client": lambda small: small.client.pk,
    "supplier": lambda small: small.supplier.pk,
    "commission": lambda small: small.commission.pk,
    "workpiece": lambda small: small.blanks[3].pk,
    "clock_start": lambda small: small.blanks[3].pk,
    "lathe": lambda small: small.blanks[3].pk,
    "loss": lambda small: small.loss.pk,
    "purchase": lambda small: small.purchase.pk,
    "species": lambda small: small.species.pk,
    "material": lambda small: small.part_a.pk,
    "batch": lambda small: small.part_a_batch.pk,
    "resin": lambda small: small.resin.pk,
    "bath": lambda small: small.bath.pk,
    "machine": lambda small: small.oven.pk,
    "upkeep": lambda small: small.oven.upkeep.first().pk,
    "mould": lambda small: small.mould.pk,
    "load": lambda small: small.load.pk,
    "pour": lambda small: small.pour.pk,
    "demould": lambda small: small.pour.pk,
    "pour_room": lambda small: small.blanks[3].pk,
    "pour_thickened": lambda small: small.pour.pk,
    "pour_cup": lambda small: small.pour.pk,
    "casting_seen": lambda small: small.pour.fills.first().pk,
    "stabilizing": lambda small: small.stabilizing.pk,
    "finish": lambda small: small.finish.pk,
}


def patterns() -> Iterator[tuple[str, URLPattern]]:
    """Every named address the studio knows."""

    def walk(resolver: URLResolver) -> Iterator[URLPattern]:
        for one in resolver.url_patterns:
            if isinstance(one, URLResolver):
                yield from walk(one)
            else:
                yield one

    for pattern in walk(get_resolver("studio.config.urls")):
        yield pattern.name or str(pattern.pattern), pattern


def address(name: str, pattern: URLPattern, small: SmallStudio) -> str:
    """The address, filled in with things of the small studio."""
    wanted = pattern.pattern.converters
    if name in FILLS:
        return reverse(name, kwargs=FILLS[name](small))
    if set(wanted) == {"pk"}:
        begins = max((word for word in KEYS if name.startswith(word)), key=len)
        return reverse(name, kwargs={"pk": KEYS[begins](small)})
    return reverse(name, kwargs={})


def addresses(small: SmallStudio) -> dict[str, str]:
    return {name: address(name, pattern, small) for name, pattern in patterns()}
