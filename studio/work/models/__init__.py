"""The bench in the database."""

from studio.work.models.dry_room import Overruled, WoodEvent, Wrap
from studio.work.models.finishing import FinishDone, FinishLine, FinishRun, FinishSchedule, LineKind, RagsIn
from studio.work.models.losses import Cause, Loss, LossPicture
from studio.work.models.outcomes import Outcome
from studio.work.models.prepared import MouldReady
from studio.work.models.resin import (
    Pour,
    PourColorant,
    PourFill,
    PourSwirl,
    RoomReading,
    Stabilizing,
    StabilizingItem,
)
from studio.work.models.steps import ClockRun, ClockShare, Step, StepCode, StepState, UsualMinutes
from studio.work.models.turning import Balance, Holding, Mount
from studio.work.models.workpieces import (
    Bark,
    ClosedAs,
    Descent,
    Stage,
    Weighing,
    Workpiece,
    WorkpiecePicture,
    WorkpieceQuerySet,
)

__all__ = [
    "Balance",
    "Bark",
    "Cause",
    "ClockRun",
    "ClockShare",
    "ClosedAs",
    "Descent",
    "FinishDone",
    "FinishLine",
    "FinishRun",
    "FinishSchedule",
    "Holding",
    "LineKind",
    "Loss",
    "LossPicture",
    "MouldReady",
    "Mount",
    "Outcome",
    "Overruled",
    "Pour",
    "PourColorant",
    "PourFill",
    "PourSwirl",
    "RagsIn",
    "RoomReading",
    "Stabilizing",
    "StabilizingItem",
    "Stage",
    "Step",
    "StepCode",
    "StepState",
    "UsualMinutes",
    "Weighing",
    "WoodEvent",
    "Workpiece",
    "WorkpiecePicture",
    "WorkpieceQuerySet",
    "Wrap",
]
