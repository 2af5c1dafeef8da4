"""Every change of a piece, one verb each."""

from studio.pieces.describing import (
    PartSpec,
    choose_card_picture,
    describe_piece,
    make_first,
    make_second,
    renew_token,
    set_parts,
    take_off_picture,
)
from studio.pieces.finishing import become_piece, measure, photograph, rest, sign, untick
from studio.pieces.leaving import come_back, let_go, set_asking_price, withdraw_price

__all__ = [
    "PartSpec",
    "become_piece",
    "choose_card_picture",
    "come_back",
    "describe_piece",
    "let_go",
    "make_first",
    "make_second",
    "measure",
    "photograph",
    "renew_token",
    "rest",
    "set_asking_price",
    "set_parts",
    "sign",
    "take_off_picture",
    "untick",
    "withdraw_price",
]
