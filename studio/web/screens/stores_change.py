"""Changing what somebody else may be changing too: nothing is overwritten unseen."""

import json
from typing import Any

from django import forms

from studio.fields.errors import Refused
from studio.web.deeds import Deed
from studio.web.forms import StudioForm

SEEN = "seen"


class ChangedMeanwhile(Refused):
    """Somebody else changed it since the form was opened. Nothing was stored."""


class ChangeDeed(Deed):
    """A deed that changes a thing as a whole. `initial` must say how the thing is now.

    The form carries what it showed when it was opened; where that isn't so any more, the person is shown what
    changed, what they typed stays, and the next press counts.
    """

    template_name = "stores/change.html"
    changed: tuple[tuple[str, str, str], ...] = ()

    def form_kwargs(self) -> dict[str, Any]:
        return {}

    def show(self, form: StudioForm):  # type: ignore[no-untyped-def]
        form.fields[SEEN] = forms.CharField(widget=forms.HiddenInput, required=False)
        now = json.dumps(self._as_shown(form), sort_keys=True)
        form.initial[SEEN] = now
        if form.is_bound:
            data = self.request.POST.copy()
            data[SEEN] = now
            form.data = data
        return super().show(form)

    def _do(self, form: StudioForm, submission: Any) -> str:
        self._refuse_if_changed(form)
        return super()._do(form, submission)

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"changed": [(what, was, now, "") for what, was, now in self.changed]}

    def _as_shown(self, form: StudioForm) -> dict[str, str]:
        start = self.initial()
        return {name: _shown(field, start.get(name)) for name, field in form.fields.items() if name in start}

    def _refuse_if_changed(self, form: StudioForm) -> None:
        try:
            seen = json.loads(self.request.POST.get(SEEN, "") or "{}")
        except ValueError:
            seen = {}
        now = self._as_shown(form)
        if not isinstance(seen, dict) or not seen:
            return
        self.changed = tuple(
            (str(form.fields[name].label or name), str(seen[name])[:200], now[name])
            for name in now
            if name in seen and seen[name] != now[name]
        )
        if self.changed:
            raise ChangedMeanwhile("Somebody changed this since you opened it. Look at what is different below.")


def _shown(field: forms.Field, value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value is None:
        return ""
    if isinstance(field, forms.ChoiceField):
        key = str(getattr(value, "pk", value))
        offered: Any = field.choices
        return str({str(pk): words for pk, words in offered}.get(key, key))
    return str(field.prepare_value(value))
