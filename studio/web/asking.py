"""One question about the studio, asked on whatever form first needs its answer."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from studio.fields.errors import Refused
from studio.fields.formats import current
from studio.people import settings as answers
from studio.people.kinds import Choice, Words, YesNo
from studio.people.questions import REGISTRY, Question


class AnswerField(forms.CharField):
    """A text box that reads what was typed as an answer to one question of the registry."""

    needed = True

    def __init__(self, question: Question, **how: Any) -> None:
        if isinstance(question.kind, Choice):
            how.setdefault("widget", forms.Select(choices=[(word, word) for word in question.kind.choices]))
        elif isinstance(question.kind, YesNo):
            how.setdefault("widget", forms.Select(choices=[("yes", "Yes"), ("no", "No")]))
        elif isinstance(question.kind, Words):
            how.setdefault("widget", forms.Textarea(attrs={"rows": 6}))
        super().__init__(
            label=question.asks, help_text=_help(question), required=False, max_length=4000, **how
        )
        self.question = question

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            raise ValidationError("This one can't stay empty: the figure can't be worked out without it.")
        try:
            return answers.read(self.question.key, text, formats=current())
        except Refused as stop:
            raise ValidationError(stop.message) from None


def answer_field(key: str) -> AnswerField:
    """The field for one question, with what is proposed already in it."""
    question = REGISTRY[key]
    field = AnswerField(question)
    proposed = question.suggestion if question.suggestion is not None else question.default
    if proposed is not None:
        field.initial = answers.show(key, proposed, formats=current(), boxed=True)
    return field


def _help(question: Question) -> str:
    return f"{question.help} (The figure proposed: {question.whose}.)" if question.suggestion else question.help
