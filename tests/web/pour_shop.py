"""The shop a pour is planned in: the long box, a blank that is dry and next to be cast, and the address of a plan."""

from types import SimpleNamespace
from urllib.parse import urlencode

from django.urls import reverse

from tests.web.shop import GRAM, a_shop, to_cast


def a_pour_shop() -> SimpleNamespace:
    """The long box holds 2000 ml; 41/1 weighs 800 g oven-dry at 500 kg/m³ and takes 1600 ml of it."""
    there = a_shop()
    to_cast(there, there.blanks[0], 800 * GRAM)
    return there


def plan(shop: SimpleNamespace, **more: object) -> dict[str, object]:
    return {
        "system": shop.resin.pk, "rows": 1, "mould_0": shop.mould.pk, "blanks_0": shop.blanks[0].pk, "go": 1, **more,
    }  # fmt: skip


def at(name: str, query: dict[str, object]) -> str:
    return f"{reverse(name)}?{urlencode(query)}"
