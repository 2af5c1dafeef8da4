"""Every change at the bench, one verb each."""

from studio.work.operations.clock import (
    add_hours,
    set_usual_minutes,
    start_clock,
    stop_clock,
)
from studio.work.operations.cut import BlankSpec, cut, join
from studio.work.operations.dry_room import (
    cast_all_the_same,
    note_fog,
    note_wood,
    take_back_wood_note,
    unwrap,
    wrap,
)
from studio.work.operations.finish import (
    do_line,
    do_lines,
    put_on_finish,
    rags_in_the_tin,
    rags_still_about,
    take_back_line,
    take_off_finish,
)
from studio.work.operations.finish_schedules import LineSpec, keep_schedule, retire_schedule
from studio.work.operations.hold import (
    describe,
    find_number,
    give_back,
    hold,
    lose_number,
    release,
    renumber,
    tell_of_wood,
)
from studio.work.operations.hours_back import take_back_hours
from studio.work.operations.intake import (
    add_wood_bill,
    take_in_clients_wood,
    take_in_lump,
)
from studio.work.operations.loads import load_up, set_load, unload
from studio.work.operations.loss import it_broke, look_after_loss, salvage, take_back_loss
from studio.work.operations.outcomes import come_out, note_cup, note_outcome, take_back_outcome
from studio.work.operations.pictures import add_loss_picture, add_picture
from studio.work.operations.pour import ColourIn, Fill, SwirlIn, demould, pour
from studio.work.operations.prepared import seal_coat, tick_ready
from studio.work.operations.rooms import measure_room, note_thickened
from studio.work.operations.soak import (
    brush_skin,
    note_soak,
    take_back_brushing,
    take_back_soak,
)
from studio.work.operations.stabilize import (
    finish_stabilizing,
    record_drained,
    start_stabilizing,
)
from studio.work.operations.steps import (
    begin_step,
    end_step,
    leave_out_step,
    plan_steps,
    repeat_step,
    use_material,
)
from studio.work.operations.weigh import strike_out_weighing, weigh

__all__ = [
    "BlankSpec",
    "ColourIn",
    "Fill",
    "LineSpec",
    "SwirlIn",
    "add_hours",
    "add_loss_picture",
    "add_picture",
    "add_wood_bill",
    "begin_step",
    "brush_skin",
    "cast_all_the_same",
    "come_out",
    "cut",
    "demould",
    "describe",
    "do_line",
    "do_lines",
    "end_step",
    "find_number",
    "finish_stabilizing",
    "give_back",
    "hold",
    "it_broke",
    "join",
    "keep_schedule",
    "leave_out_step",
    "load_up",
    "look_after_loss",
    "lose_number",
    "measure_room",
    "note_cup",
    "note_fog",
    "note_outcome",
    "note_soak",
    "note_thickened",
    "note_wood",
    "plan_steps",
    "pour",
    "put_on_finish",
    "rags_in_the_tin",
    "rags_still_about",
    "record_drained",
    "release",
    "renumber",
    "repeat_step",
    "retire_schedule",
    "salvage",
    "seal_coat",
    "set_load",
    "set_usual_minutes",
    "start_clock",
    "start_stabilizing",
    "stop_clock",
    "strike_out_weighing",
    "take_back_brushing",
    "take_back_hours",
    "take_back_line",
    "take_back_loss",
    "take_back_outcome",
    "take_back_soak",
    "take_back_wood_note",
    "take_in_clients_wood",
    "take_in_lump",
    "take_off_finish",
    "tell_of_wood",
    "tick_ready",
    "unload",
    "unwrap",
    "use_material",
    "weigh",
    "wrap",
]
