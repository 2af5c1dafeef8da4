"""Amounts of a material as the stores write them: `{% load stock %}`."""

from django import template

from studio.fields import quantity
from studio.stores.models import Material
from studio.web import saying

# What a small car weighs. *Common practice, no source.*
CAR_KG = 1000
register = template.Library()


@register.simple_tag
def amount(material: Material, value: int | None) -> str:
    """Return `412 g` or `12 pieces`, a dash where nothing is known."""
    return "–" if value is None else quantity.show(value, "count" if material.counted else "mass")


@register.simple_tag
def ratio(part: int) -> str:
    """Return a part by weight, kept in thousandths: 82500 is `82.5`."""
    return quantity.show(part, "number", grouped=False)


@register.filter
def push(newtons: int) -> str:
    """Return a force as one feels it: `35 kN: 3600 kg, as if four small cars stood on it`."""
    kilos = newtons * 100_000 // 980_665
    rounded = kilos // 100 * 100 if kilos >= 1000 else kilos
    cars = (kilos + CAR_KG // 2) // CAR_KG
    said = f"{newtons // 1000 or 1} kN: {rounded} kg"
    if not cars:
        return f"{said} stand on it"
    return f"{said}, as if {'a small car' if cars == 1 else f'{saying.in_words(cars)} small cars'} stood on it"


@register.filter
def percent(ppm: int) -> str:
    """Return a share as whole percent: an estimate that is shown finer would lie."""
    return quantity.show(ppm, "share", digits=0)
