"""Form fields for quantities and moments, read by the one tokenizer."""

from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from studio.fields.quantity import LONGEST, NotUnderstood, parse, typed

YEARS = range(1900, 2200)  # beyond them lie slips of the finger, and moments no database holds
MOMENT_FORMATS = ("%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M")


class QuantityField(forms.CharField):
    """A quantity as a person types it; cleaned to the stored whole number of its dimension, or None if empty.

    `unit` is what a bare number means (the studio's usual one otherwise), `least` and `most` are in stored
    units. What was typed stays in the box, also when it isn't understood.
    """

    def __init__(
        self,
        *,
        dimension: str,
        unit: str | None = None,
        least: int | None = None,
        most: int | None = None,
        negative: bool | None = None,
        **how: Any,
    ) -> None:
        how.setdefault("max_length", LONGEST)
        super().__init__(**how)
        self.dimension, self.unit = dimension, unit
        self.least, self.most, self.negative = least, most, negative

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        attrs = super().widget_attrs(widget)
        attrs.setdefault("inputmode", "decimal")
        attrs.setdefault("autocomplete", "off")
        return attrs

    def clean(self, value: Any) -> int | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return parse(
                text,
                self.dimension,
                unit=self.unit,
                negative=self.negative,
                least=self.least,
                most=self.most,
            )
        except NotUnderstood as stop:
            raise ValidationError(str(stop)) from None

    def prepare_value(self, value: Any) -> Any:
        return typed(value, self.dimension, unit=self.unit) if type(value) is int else value


class MomentField(forms.DateTimeField):
    """When it happened, in the studio's time. Left empty it means now and cleans to None.

    An hour that the clocks skipped or ran through twice is asked again, in words.
    """

    def __init__(self, **how: Any) -> None:
        how.setdefault("required", False)
        how.setdefault("label", "When")
        how.setdefault("help_text", "Leave it empty for now.")
        how.setdefault("input_formats", MOMENT_FORMATS)
        how.setdefault(
            "widget", forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
        )
        super().__init__(**how)

    def clean(self, value: Any) -> datetime | None:
        try:
            moment = super().clean(value)
        except ValidationError:
            naive = self._naive(value)
            if naive is None:
                raise ValidationError(
                    "That is no time we can read. Write it like 2026-03-14 09:30."
                ) from None
            raise ValidationError(
                "The clocks were changed in that hour, so it was there twice or not at all. "
                "Give a time before or after it."
            ) from None
        if moment is not None and moment.year not in YEARS:
            raise ValidationError(f"The year {moment.year} can't be meant. Write it like 2026-03-14 09:30.")
        return moment

    def _naive(self, value: Any) -> datetime | None:
        for pattern in MOMENT_FORMATS:
            try:
                return datetime.strptime(str(value).strip(), pattern)  # noqa: DTZ007 (read as typed)
            except ValueError:
                continue
        return None


def moment_or_now(moment: datetime | None, now: datetime) -> datetime:
    """What was typed, or now. A minute typed while it runs is not a moment to come."""
    if moment is None:
        return now
    if moment > now and moment.replace(second=0, microsecond=0) <= now:
        return now
    return moment
