"""Every change of where a piece is, what was sold and what was paid, one verb each."""

from studio.selling.operations.galleries import (
    add_gallery,
    change_gallery,
    change_terms,
    close_gallery,
    reopen_gallery,
)
from studio.selling.operations.payments import give_back, record_payment, take_back_payment
from studio.selling.operations.placing import leave_with, take_back
from studio.selling.operations.sales import sell, take_back_sale

__all__ = [
    "add_gallery",
    "change_gallery",
    "change_terms",
    "close_gallery",
    "give_back",
    "leave_with",
    "record_payment",
    "reopen_gallery",
    "sell",
    "take_back",
    "take_back_payment",
    "take_back_sale",
]
