"""Kinds of answer a studio gives about itself: how each is checked, kept as text, and read back.

`clean` takes the typed value and returns it in its canonical form or raises ValueError with a sentence;
`to_text` and `from_text` are the canonical text in the database. Stored units are those of the whole house:
micro, ppm, seconds.
"""

import json
import zoneinfo
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

from studio.people import numbering
from studio.people.places import is_currency
from studio.people.text import tidy


@dataclass(frozen=True)
class Kind:
    """One line of text."""

    most: int = 200
    dimension: str | None = None

    def clean(self, value: Any) -> Any:
        if not isinstance(value, str):
            raise ValueError("Write this in words.")
        text = tidy(value, most=self.most)
        if not text:
            raise ValueError("Write something here.")
        return text

    def to_text(self, value: Any) -> str:
        return str(value)

    def from_text(self, text: str) -> Any:
        return text


@dataclass(frozen=True)
class Whole(Kind):
    """A whole number of stored units from `low` to `high`; `says` is the sentence when it lies outside."""

    low: int = 0
    high: int = 10**15
    says: str = "That figure is out of range."
    unit: str | None = None

    def clean(self, value: Any) -> int:
        if type(value) is not int:
            raise ValueError("Give a whole number of stored units here.")
        if not self.low <= value <= self.high:
            raise ValueError(self.says)
        return value

    def from_text(self, text: str) -> int:
        return int(text)


@dataclass(frozen=True)
class Choice(Kind):
    """One of a few words."""

    choices: tuple[str, ...] = ()

    def clean(self, value: Any) -> str:
        if value not in self.choices:
            raise ValueError("Choose one of: " + ", ".join(self.choices) + ".")
        return value


@dataclass(frozen=True)
class YesNo(Kind):
    """True or False, kept as "yes" or "no"."""

    def clean(self, value: Any) -> bool:
        if not isinstance(value, bool):
            raise ValueError("Answer yes or no.")
        return value

    def to_text(self, value: Any) -> str:
        return "yes" if value else "no"

    def from_text(self, text: str) -> bool:
        return text == "yes"


@dataclass(frozen=True)
class Words(Kind):
    """A list of lines, in the studio's own order; the same line twice is refused."""

    lines: int = 60

    def clean(self, value: Any) -> tuple[str, ...]:
        if isinstance(value, str) or not all(isinstance(line, str) for line in value):
            raise ValueError("Give one to a line.")
        lines = tuple(filter(None, (tidy(line, most=self.most) for line in value)))
        if len(lines) > self.lines:
            raise ValueError(f"That is {len(lines)} lines; {self.lines} is the most this list holds.")
        folded = [line.casefold() for line in lines]
        for line in lines:
            if folded.count(line.casefold()) > 1:
                raise ValueError(f"“{line}” is on the list twice. Take one of them out.")
        return lines

    def to_text(self, value: Any) -> str:
        return json.dumps(list(value), ensure_ascii=False)

    def from_text(self, text: str) -> tuple[str, ...]:
        return tuple(json.loads(text))


@dataclass(frozen=True)
class Currency(Kind):
    """The three letters of a currency in use today (ISO 4217)."""

    def clean(self, value: Any) -> str:
        code = value.strip().upper() if isinstance(value, str) else ""
        if not is_currency(code):
            raise ValueError("Give the three letters of a currency in use, such as EUR, GBP, USD or JPY.")
        return code


@dataclass(frozen=True)
class TimeZone(Kind):
    """A time zone by its place, as the tz database names it."""

    def clean(self, value: Any) -> str:
        name = value.strip() if isinstance(value, str) else ""
        if name not in zoneinfo.available_timezones():
            raise ValueError("There is no time zone of that name. Pick one by its place, such as Europe/Oslo.")
        return name


@dataclass(frozen=True)
class Address(Kind):
    """The web address that printed codes lead to: http or https, a host, perhaps a path, nothing more."""

    def clean(self, value: Any) -> str:
        text = super().clean(value)
        wrong = ValueError("Write the whole address as a browser shows it, such as https://studio.example.")
        if any(char.isspace() for char in text) or not text.isascii():
            raise wrong
        try:
            parts = urlsplit(text)
            parts.port  # noqa: B018  reading it is what checks it
        except ValueError:
            raise wrong from None
        if parts.scheme not in ("http", "https") or not parts.hostname:
            raise wrong
        if parts.username is not None or parts.password is not None:
            raise ValueError("Leave the name and password out of the address: it will be printed on every card.")
        if parts.query or parts.fragment or "?" in text or "#" in text:
            raise ValueError("Leave out everything from the ? or # on: pages are added to the end of this address.")
        return text.rstrip("/")


@dataclass(frozen=True)
class NumberPattern(Kind):
    """How signed numbers are written (`people.numbering`)."""

    def clean(self, value: Any) -> str:
        text = super().clean(value)
        numbering.check(text)
        return text
