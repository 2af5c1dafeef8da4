"""Amounts of a material as the stores write them: `{% load stock %}`."""

from django import template

from studio.fields import quantity
from studio.stores.models import Material

register = template.Library()


@register.simple_tag
def amount(material: Material, value: int | None) -> str:
    """Return `412 g` or `12 pieces`, a dash where nothing is known."""
    return "–" if value is None else quantity.show(value, "count" if material.counted else "mass")


@register.simple_tag
def ratio(part: int) -> str:
    """Return a part by weight, kept in thousandths: 82500 is `82.5`."""
    return quantity.show(part, "number", grouped=False)
