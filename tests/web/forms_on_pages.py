"""A form as a browser holds it: its fields with what stands in them, ready to be filled in otherwise and sent."""

from dataclasses import dataclass, field
from html.parser import HTMLParser

TYPED = {"text", "search", "tel", "email", "url", "number", "textarea", ""}
MOMENTS = {"date", "datetime-local", "time"}


@dataclass
class Field:
    name: str
    kind: str
    value: str = ""
    options: list[str] = field(default_factory=list)
    checked: bool = False


@dataclass
class Form:
    action: str
    fields: list[Field] = field(default_factory=list)

    def as_shown(self) -> dict[str, list[str]]:
        """What the browser would send if the button were pressed at once."""
        data: dict[str, list[str]] = {}
        for one in self.fields:
            if one.kind in ("checkbox", "radio") and not one.checked:
                data.setdefault(one.name, [])
            elif one.kind != "file":
                data.setdefault(one.name, []).append(one.value)
        return data

    def of(self, kinds: set[str]) -> list[str]:
        """Names of the fields of these kinds, once each."""
        return list(dict.fromkeys(one.name for one in self.fields if one.kind in kinds))


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.open: Form | None = None
        self.select: Field | None = None
        self.area: Field | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        had = {name: value or "" for name, value in attrs}
        if tag == "form" and had.get("method", "").lower() == "post":
            self.open = Form(had.get("action", ""))
        if self.open is None:
            return
        name = had.get("name", "")
        if tag == "input" and name:
            kind = had.get("type", "text")
            value = had.get("value", "on" if kind == "checkbox" else "")
            self.open.fields.append(Field(name, kind, value, checked="checked" in had))
        elif tag == "button" and name:
            self.open.fields.append(Field(name, "button", had.get("value", "")))
        elif tag == "textarea" and name:
            self.area = Field(name, "textarea")
            self.open.fields.append(self.area)
        elif tag == "select" and name:
            self.select = Field(name, "select")
            self.open.fields.append(self.select)
        elif tag == "option" and self.select is not None:
            self.select.options.append(had.get("value", ""))
            if "selected" in had or len(self.select.options) == 1:
                self.select.value = had.get("value", "")

    def handle_data(self, data: str) -> None:
        if self.area is not None:
            self.area.value += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea":
            self.area = None
        elif tag == "select":
            self.select = None
        elif tag == "form" and self.open is not None:
            self.forms.append(self.open)
            self.open = None


def forms_on(html: str) -> list[Form]:
    """Every form on a page that carries a deed: it has the key that makes it count once."""
    reader = _Reader()
    reader.feed(html)
    return [form for form in reader.forms if any(one.name == "submission" for one in form.fields)]
