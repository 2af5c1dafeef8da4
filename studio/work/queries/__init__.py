"""Reading the bench."""

from studio.work.queries.cost import CostLine, CostRow, CostTable, cost_table, still_to_come
from studio.work.queries.lists import (
    candidates_for_lost_number,
    losses_to_look_after,
    on_the_bench,
    open_stabilizings,
    ready_for,
    running_clocks,
    search,
)
from studio.work.queries.page import Page, page, usual_seconds

__all__ = [
    "CostLine",
    "CostRow",
    "CostTable",
    "Page",
    "PourPlan",
    "candidates_for_lost_number",
    "cost_table",
    "losses_to_look_after",
    "on_the_bench",
    "open_stabilizings",
    "page",
    "plan_pour",
    "pours_under_way",
    "ready_for",
    "running_clocks",
    "search",
    "still_to_come",
    "usual_seconds",
    "waits",
]
