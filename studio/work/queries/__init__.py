"""Reading the bench."""

from studio.work.queries.bench_waits import bench_wait
from studio.work.queries.cost import CostLine, CostRow, CostTable, cost_table, still_to_come
from studio.work.queries.drying import DRYING, Drying, drying
from studio.work.queries.finishing import (
    at_line,
    finish,
    finish_done,
    finish_line,
    finish_run,
    finishes,
    last_finish,
    on_a_finish_now,
    rags_lie_about,
    still_curing,
    to_be_finished,
    under_finish,
)
from studio.work.queries.in_moulds import fits_pot, held_until, hold_words, in_moulds
from studio.work.queries.lists import (
    candidates_for_lost_number,
    losses_to_look_after,
    lost_numbers,
    on_the_bench,
    open_stabilizings,
    ready_for,
    running_clocks,
    search,
)
from studio.work.queries.lumps import lumps, lumps_of
from studio.work.queries.lying_out import overruled_of
from studio.work.queries.mould_pours import MouldPour, mould_pours
from studio.work.queries.page import (
    LossPage,
    Page,
    clock_run,
    loss_page,
    next_code,
    page,
    planned_codes,
    usual_seconds,
    weighing,
    weighings,
    workpiece,
)
from studio.work.queries.pour_clocks import ClockWanted
from studio.work.queries.poured import PourUnderWay, pour_page, pours_under_way
from studio.work.queries.pouring import FillPlan, FillWanted, PourPlan, SwirlWanted, plan_pour
from studio.work.queries.prepared import Prepared, prepared
from studio.work.queries.ready import NotReady, not_ready
from studio.work.queries.soaking import not_brushed, ready_to_soak, soaking_page
from studio.work.queries.waits import BenchWait, Tagged, waits

__all__ = [
    "DRYING",
    "Drying",
    "drying",
    "BenchWait",
    "bench_wait",
    "ClockWanted",
    "LossPage",
    "clock_run",
    "lost_numbers",
    "next_code",
    "planned_codes",
    "Tagged",
    "loss_page",
    "lumps",
    "lumps_of",
    "CostLine",
    "CostRow",
    "CostTable",
    "FillPlan",
    "FillWanted",
    "MouldPour",
    "Page",
    "PourPlan",
    "PourUnderWay",
    "Prepared",
    "SwirlWanted",
    "at_line",
    "candidates_for_lost_number",
    "cost_table",
    "fits_pot",
    "held_until",
    "hold_words",
    "in_moulds",
    "finish",
    "finish_done",
    "finish_line",
    "finish_run",
    "finishes",
    "last_finish",
    "on_a_finish_now",
    "losses_to_look_after",
    "not_brushed",
    "mould_pours",
    "on_the_bench",
    "NotReady",
    "not_ready",
    "open_stabilizings",
    "overruled_of",
    "page",
    "plan_pour",
    "pour_page",
    "pours_under_way",
    "prepared",
    "rags_lie_about",
    "ready_for",
    "ready_to_soak",
    "running_clocks",
    "search",
    "soaking_page",
    "still_curing",
    "still_to_come",
    "to_be_finished",
    "under_finish",
    "usual_seconds",
    "waits",
    "weighing",
    "weighings",
    "workpiece",
]
