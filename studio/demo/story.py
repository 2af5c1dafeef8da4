"""The invented names, places, figures and words of the demo, as `fixtures_demo/` has them."""

import json
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings

MONEY = 1_000_000
GRAM = 1000
MM = 1000
PER_CENT = 10_000
HOUR_S = 3600
DAY_S = 86_400
PSI_PA = 6895


@dataclass(frozen=True)
class Form:
    """One form the studio makes; `mould` is the key of the mould it is cast in, "" for plain turning."""

    name: str
    noun: str
    size_mm: dict[str, int]
    turn_min: tuple[int, int]
    coats: int
    profile: str
    mould: str = ""
    wood: float = 0.0
    parts: tuple[str, ...] = ()
    fitting: str = ""
    blank_mm: tuple[int, int] = (0, 0)


@dataclass(frozen=True)
class LumpPlan:
    """One lump of the story: when it comes, from where, for how much, and what is to be made of it."""

    number: int
    day: int
    species: str
    kind: str
    where: str
    supplier: str
    paid_micro: int
    carriage_micro: int
    makes: tuple[str, ...]
    how: str = "bought"
    market_micro: int = 0
    punky: bool = False
    spalted: bool = False
    note: str = ""
    whole: str = ""
    bare: bool = False
    uncut: bool = False
    late: bool = False
    equal: bool = False


@dataclass(frozen=True)
class Fate:
    """A loss of the story: the first blank that passes this step from that day on breaks."""

    day: int
    step: str
    cause: str
    words: str = ""
    saved: bool = False


@dataclass(frozen=True)
class Story:
    people: dict[str, Any]
    shop: dict[str, Any]
    species: dict[str, dict[str, Any]]
    lumps: tuple[LumpPlan, ...]
    forms: dict[str, Form]
    fates: tuple[Fate, ...]
    words: dict[str, Any] = field(default_factory=dict)


def read(name: str) -> Any:
    """One file of `fixtures_demo/`."""
    return json.loads((Path(settings.BASE_DIR) / "fixtures_demo" / f"{name}.json").read_text(encoding="utf-8"))


@cache
def story() -> Story:
    """The whole of it, read once."""
    shop, wood, words = read("shop"), read("wood"), read("story")
    return Story(
        people=read("people"),
        shop=shop,
        species={row["key"]: row for row in wood["species"]},
        lumps=tuple(_lump(number, row) for number, row in enumerate(wood["lumps"], start=1)),
        forms={name: _form(name, row) for name, row in shop["forms"].items()},
        fates=tuple(Fate(**row) for row in words["losses"]),
        words=words,
    )


def _form(name: str, row: dict[str, Any]) -> Form:
    kept: dict[str, Any] = {key: tuple(value) if isinstance(value, list) else value for key, value in row.items()}
    return Form(name=name, **kept)


def _lump(number: int, row: dict[str, Any]) -> LumpPlan:
    flags = {key: bool(row.get(key)) for key in ("punky", "spalted", "bare", "uncut", "late", "equal")}
    return LumpPlan(
        number=number,
        day=row["day"],
        species=row["species"] or "",
        kind=row["kind"],
        where=row["where"],
        supplier=row["from"],
        paid_micro=round(row["paid"] * MONEY),
        carriage_micro=round(row["carriage"] * MONEY),
        makes=tuple(row["makes"]),
        how=row.get("how", "bought"),
        market_micro=row.get("market", 0) * MONEY,
        note=row.get("note", ""),
        whole=row.get("whole", ""),
        **flags,
    )
