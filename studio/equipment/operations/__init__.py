"""The verbs of the equipment: machines, moulds, and the loads that go into them."""

from studio.equipment.operations.endings import end_load, take_back_end
from studio.equipment.operations.gauge import read_gauge
from studio.equipment.operations.loads import change_load, put_in, start_load, take_out
from studio.equipment.operations.machines import (
    add_machine,
    bring_back_machine,
    change_machine,
    retire_machine,
)
from studio.equipment.operations.moulds import add_mould, change_mould, retire_mould
from studio.equipment.operations.upkeep import (
    add_upkeep,
    begin_diary,
    change_upkeep,
    drop_upkeep,
    take_back_done,
    upkeep_done,
)

__all__ = [
    "add_machine",
    "add_mould",
    "add_upkeep",
    "begin_diary",
    "bring_back_machine",
    "change_load",
    "change_machine",
    "change_mould",
    "change_upkeep",
    "drop_upkeep",
    "end_load",
    "put_in",
    "read_gauge",
    "retire_machine",
    "retire_mould",
    "start_load",
    "take_back_done",
    "take_back_end",
    "take_out",
    "upkeep_done",
]
