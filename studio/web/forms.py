"""The base of every form on screen, and the few inputs that are ours."""

from datetime import date
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.http import QueryDict

from studio.fields.errors import Refused
from studio.fields.forms import YEARS

LONGEST_KEY = 18  # digits; a row's key is a 64-bit number


def _left_empty(field: forms.Field) -> str:
    if isinstance(field, forms.FileField):
        return "Choose a picture or a file here."
    if isinstance(field, forms.BooleanField):
        return "This has to be ticked before it can go on."
    if isinstance(field, forms.ChoiceField | forms.ModelChoiceField):
        return "Choose one of these."
    return "Nothing is written here yet."


class StudioForm(forms.Form):
    """A form drawn by `templates/django/forms/div.html`.

    `fieldsets` groups fields under a heading: (("The lump", ("number", "weight")), ...). Fields named in none
    of them come first, without a heading.
    """

    fieldsets: tuple[tuple[str, tuple[str, ...]], ...] = ()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if field.error_messages.get("required") == forms.Field.default_error_messages["required"]:
                field.error_messages["required"] = _left_empty(field)

    def _clean_fields(self) -> None:
        """A key longer than any row's is on no list; the database would not even look it up."""
        for name, field in self.fields.items():
            key = self.add_prefix(name)
            if isinstance(field, forms.ModelChoiceField) and isinstance(self.data, QueryDict):
                given = self.data.getlist(key)
                if any(len(one) > LONGEST_KEY for one in given):
                    self.data = self.data.copy()
                    self.data.setlist(key, [one if len(one) <= LONGEST_KEY else "0" for one in given])
        super()._clean_fields()  # type: ignore[misc]  # Django's own, without a type

    def groups(self) -> list[tuple[str, list[BoundField]]]:
        """Return (heading, fields) in the order to draw them; nothing is lost that a fieldset forgot."""
        named = {name for _, names in self.fieldsets for name in names}
        rest = [field for field in self.visible_fields() if field.name not in named]
        headed = [
            (words, [self[name] for name in names if name in self.fields]) for words, names in self.fieldsets
        ]
        return [group for group in [("", rest), *headed] if group[1]]

    def refuse(self, refused: Refused) -> None:
        """Put an operation's refusal beside the field it belongs to, or on top if it names none of ours."""
        self.add_error(refused.field if refused.field in self.fields else None, refused.message)


class DayField(forms.DateField):
    """A day from the calendar. `2026-03-14` is read where a browser has no calendar to show."""

    def __init__(self, **how: Any) -> None:
        how.setdefault("widget", forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
        how.setdefault("input_formats", ["%Y-%m-%d"])
        words = {"invalid": "That is no day we can read. Write it like 2026-03-14."}
        super().__init__(**{"error_messages": words, **how})

    def clean(self, value: Any) -> date | None:
        day: date | None = super().clean(value)
        if day is not None and day.year not in YEARS:
            raise forms.ValidationError(f"The year {day.year} can't be meant. Write it like 2026-03-14.")
        return day


class Typed(forms.TextInput):
    """A figure with or without its unit. The keyboard shows figures; `letters=True` when units are likely."""

    def __init__(self, attrs: dict[str, Any] | None = None, *, letters: bool = False) -> None:
        usual = {"inputmode": "text" if letters else "decimal", "autocomplete": "off", "class": "typed"}
        super().__init__({**usual, "spellcheck": "false", **(attrs or {})})


class Camera(forms.FileInput):
    """A photograph. On a phone the button opens its own camera, which needs no secure address."""

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        usual = {"accept": "image/jpeg,image/png,image/webp,image/heic,image/heif", "capture": "environment"}
        super().__init__({**usual, **(attrs or {})})


class Photographs(Camera):
    """Several photographs at once, from the desk: the camera is not forced."""

    allow_multiple_selected = True

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"capture": False, **(attrs or {})})
