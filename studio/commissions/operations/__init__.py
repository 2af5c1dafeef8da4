"""Every change of a commission, one verb each; each leaves a line in its trail."""

from studio.commissions.operations.deposits import give_deposit_back, keep_deposit, take_deposit
from studio.commissions.operations.ending import call_off, deliver, take_back_delivery
from studio.commissions.operations.ordering import agree, ask, change
from studio.commissions.operations.reserving import let_go_workpiece, reserve

__all__ = [
    "agree",
    "ask",
    "call_off",
    "change",
    "deliver",
    "give_deposit_back",
    "keep_deposit",
    "let_go_workpiece",
    "reserve",
    "take_back_delivery",
    "take_deposit",
]
