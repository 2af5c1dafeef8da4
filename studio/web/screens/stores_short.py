"""When the stores hold too little by the books: what is really there is asked on the same form, and it goes on."""

from datetime import datetime
from typing import Any

from django import forms
from django.http import HttpRequest

from studio.fields.errors import Refused
from studio.fields.forms import QuantityField
from studio.stores import operations as stores
from studio.stores import queries
from studio.stores.errors import StoresRunShort
from studio.stores.models import Material
from studio.web.forms import StudioForm

THERE = "there__"
PAST = "allow_past"


class ThereForm(StudioForm):
    """A form that may get a field for what is really there of a material that runs short."""


class OffersCount:
    """Mixed into a Deed whose operation draws on the stores (put it first).

    `do` begins with `allow_past = self.count_first(data, at)`: it counts what was typed and takes those fields
    out of the data. Count and draw are one transaction: if the draw is refused the count is undone.
    """

    request: HttpRequest
    stamp: dict[str, Any]

    def _keep_questions(self, form: StudioForm) -> None:
        super()._keep_questions(form)  # type: ignore[misc]
        for name in self.request.POST:
            if name.startswith(THERE) and (material := _material(name)) is not None:
                form.fields[name] = there_field(material)
            elif name == PAST:
                form.fields[PAST] = past_field()

    def _with_refusal(self, form: StudioForm, stop: Refused) -> StudioForm:
        if not isinstance(stop, StoresRunShort):
            return super()._with_refusal(form, stop)  # type: ignore[misc,no-any-return]
        for short in stop.shortages:
            name = f"{THERE}{short.material.pk}"
            form.fields.setdefault(name, there_field(short.material))
            form.add_error(name, str(StoresRunShort([short]).message))
            if short.past:
                form.fields.setdefault(PAST, past_field())
        return form

    def count_first(self, data: dict[str, Any], at: datetime) -> bool:
        """Will count what was typed as really there; returns whether what is past its day may be used."""
        for name in [name for name in data if name.startswith(THERE)]:
            really_there, material = data.pop(name), _material(name)
            if really_there is None or material is None:
                continue
            try:
                stores.count(material=material, really_there=really_there, at=at, **self.stamp)
            except Refused as stop:
                field = name if stop.field == "really_there" else stop.field
                raise Refused(stop.message, field=field, code=stop.code) from stop
        return bool(data.pop(PAST, False))


def there_field(material: Material) -> QuantityField:
    return QuantityField(
        dimension="count" if material.counted else "mass",
        required=False,
        least=0,
        label=f"How much {material.name} is really there?",
        help_text="All bottles together, as the scale or a look at the shelf says. The books are set to it first.",
    )


def past_field() -> forms.BooleanField:
    return forms.BooleanField(required=False, label="Use what is past its day all the same")


def _material(name: str) -> Material | None:
    key = name[len(THERE) :]
    return queries.material(int(key)) if key.isdecimal() and len(key) < 12 else None
