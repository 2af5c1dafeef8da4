"""The studio, lump and pieces of the pieces' tests."""

from tests.pieces.conftest import (  # noqa: F401
    bowl,
    finish,
    lump,
    make_piece,
    owner,
    picture,
)
