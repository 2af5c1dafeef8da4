"""When the stores hold too little by the books: what is really there is asked on the same form, and it goes on."""

from typing import Any

from django import forms
from django.http import HttpRequest

from studio.fields.errors import Refused
from studio.fields.forms import QuantityField
from studio.stores import operations as stores
from studio.stores import queries
from studio.stores.errors import CountRefused, StoresRunShort
from studio.stores.models import Material
from studio.web.forms import StudioForm

THERE = "there__"
PAST = "allow_past"


class OffersCount:
    """Mixed into a Deed whose operation draws on the stores (put it first).

    `do` hands `**self.said_of_stores(data)` on to that operation, which counts what was typed and then draws.
    """

    request: HttpRequest

    def _keep_questions(self, form: StudioForm) -> None:
        super()._keep_questions(form)  # type: ignore[misc]
        for name in self.request.POST:
            if name.startswith(THERE) and (material := _material(name)) is not None:
                form.fields[name] = there_field(material)
            elif name == PAST:
                form.fields[PAST] = past_field()

    def _with_refusal(self, form: StudioForm, stop: Refused) -> StudioForm:
        if isinstance(stop, CountRefused):
            name = f"{THERE}{stop.material.pk}"
            stop.field = name if stop.field == "really_there" else stop.field
        if not isinstance(stop, StoresRunShort):
            return super()._with_refusal(form, stop)  # type: ignore[misc,no-any-return]
        for short in stop.shortages:
            name = f"{THERE}{short.material.pk}"
            form.fields.setdefault(name, there_field(short.material))
            form.add_error(name, str(StoresRunShort([short]).message))
            if short.past:
                form.fields.setdefault(PAST, past_field())
        return form

    def said_of_stores(self, data: dict[str, Any]) -> dict[str, Any]:
        """What was typed as really there, and whether what is past its day may be used; taken out of the data."""
        typed = {name: data.pop(name) for name in [name for name in data if name.startswith(THERE)]}
        return {
            "counted": [
                stores.Counted(material, there)
                for name, there in typed.items()
                if there is not None and (material := _material(name)) is not None
            ],
            "allow_past": bool(data.pop(PAST, False)),
        }


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
