"""Every change of the stores: each verb in one place for the rooms and screens above."""

from studio.stores.baths import close_bath, count_bath, fill_bath, start_bath, tell_of_bath, throw_away_bath
from studio.stores.buying import add_late_bill, buy, correct_price, open_batch
from studio.stores.catalogue import add_material, add_resin_system, change_material, change_resin_system
from studio.stores.counting import Counted, count, count_each, write_off
from studio.stores.planning import FromBatch, Plan, lock_plan
from studio.stores.using import Taken, draw, use_in_shop

__all__ = [
    "Counted",
    "FromBatch",
    "Plan",
    "Taken",
    "add_late_bill",
    "add_material",
    "add_resin_system",
    "buy",
    "change_material",
    "change_resin_system",
    "close_bath",
    "correct_price",
    "count",
    "count_bath",
    "count_each",
    "draw",
    "fill_bath",
    "lock_plan",
    "open_batch",
    "start_bath",
    "tell_of_bath",
    "throw_away_bath",
    "use_in_shop",
    "write_off",
]
