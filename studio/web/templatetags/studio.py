"""What templates of every screen are written with: `{% load studio %}`."""

from datetime import date, datetime
from typing import Any

from django import template
from django.http import QueryDict
from django.template.context import RequestContext
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.timezone import now

from studio.fields import quantity, submissions
from studio.fields.formats import current
from studio.people import settings as answers
from studio.pieces.asking import way
from studio.web import drawings, links, saying, shell

register = template.Library()
NOTHING = "–"


@register.simple_tag
def tag(number: Any, url: str | None = None, label: str = "", big: bool = False) -> SafeString:
    """The tie-on tag. `label` is said before the number by a screen reader: "lump 41" rather than "41"."""
    kind = "tag big" if big else "tag"
    said = format_html('<span class="vh">{} </span>', label) if label else ""
    if url:
        return format_html('<a class="{}" href="{}">{}{}</a>', kind, url, said, number)
    return format_html('<span class="{}">{}{}</span>', kind, said, number)


def _shown(value: int | None, dimension: str, **how: Any) -> str:
    return NOTHING if value is None else quantity.show(value, dimension, **how)


@register.simple_tag
def money(micro: int | None, unit: bool = False, digits: int | None = None) -> str:
    """Millionths of the currency as `1,140.00`; with `unit=True` the currency is written too."""
    return _shown(micro, "money", with_unit=unit, digits=digits)


@register.simple_tag
def asked(micro: int | None, unit: bool = False, on: datetime | None = None) -> str:
    """A price kept before tax as the studio says it: with tax where that is in its prices, on that day or today."""
    if micro is None:
        return NOTHING
    return money(way(answers.local_date(on or now())).shown(micro), unit)


@register.simple_tag
def grams(mg: int | None, unit: bool = True) -> str:
    return _shown(mg, "mass", unit="g", with_unit=unit)


@register.simple_tag
def length(um: int | None, unit: str | None = None) -> str:
    return _shown(um, "length", unit=unit)


@register.simple_tag
def qty(value: int | None, dimension: str, unit: str | None = None) -> str:
    """Any stored quantity, in the studio's units."""
    return _shown(value, dimension, unit=unit)


@register.simple_tag
def duration(seconds: int | None) -> str:
    return _shown(seconds, "duration")


@register.simple_tag
def share(ppm: int | None) -> str:
    return _shown(ppm, "share")


@register.simple_tag
def currency() -> str:
    """The code of the studio's money, to be written once above a table of it."""
    return current().currency


def _time(moment: datetime | date | None, words: str) -> SafeString | str:
    if moment is None:
        return NOTHING
    return format_html('<time datetime="{}">{}</time>', moment.isoformat(), words)


@register.simple_tag
def when(moment: datetime | date | None, clock: bool = False) -> SafeString | str:
    """`today 14:32`, `yesterday 06:10`, `Tue 24 Nov`; with `clock=True` the time is kept on far days too."""
    return _time(moment, saying.when(moment, now(), clock=clock) if moment else "")


@register.simple_tag
def ago(moment: datetime | None) -> SafeString | str:
    return _time(moment, saying.ago(moment, now()) if moment else "")


@register.simple_tag
def clock(moment: datetime, way: str = "up", form: str = "hours") -> SafeString:
    """A running clock: up since `moment`, or down to it.

    Without JavaScript it shows the span as the page was made. `form` is `hours` (2 h 14) or `seconds` (7:41).
    """
    span = int(((now() - moment) if way == "up" else (moment - now())).total_seconds())
    if form == "seconds":
        far = abs(span)
        words = f"{'−' if span < 0 else ''}{far // 60}:{far % 60:02d}"
    else:
        words = quantity.show(span, "duration")
    return format_html(
        '<time data-clock="{}" data-form="{}" datetime="{}">{}</time>', way, form, moment.isoformat(), words
    )


@register.simple_tag
def go(name: str, *args: Any, **kwargs: Any) -> str:
    """The address of a screen by name, or nothing where there is no such screen: `{% go "load" 3 as url %}`."""
    return links.to(name, *args, **kwargs)


@register.simple_tag
def submission() -> SafeString:
    """The hidden key that makes a form sent twice count once. Every form shown gets its own."""
    return format_html('<input type="hidden" name="submission" value="{}">', submissions.new_key())


@register.inclusion_tag("parts/header.html", takes_context=True)
def header(context: RequestContext) -> dict[str, Any]:
    """The eight words. A view may say which is current by `section` (a url name) in its context."""
    request = context.get("request")
    user = context.get("user")
    path = getattr(request, "path", "")
    words = shell.words_for(user, path, context.get("section")) if user is not None else []
    main = [word for word in words if not word.aside]
    return {
        "main": main,
        "aside": [word for word in words if word.aside],
        "here": next((word.word for word in words if word.current), ""),
        "home": main[0].url if main else "/",
        "user": user,
        "studio_name": context.get("studio_name"),
        "csrf_token": context.get("csrf_token"),
    }


@register.inclusion_tag("parts/route.html")
def route(steps: Any, label: str = "Steps", short: bool = False) -> dict[str, Any]:
    """The graduated rule. A step has `word`, `state` (done, now, skip, later, lost), `note`, maybe `url`."""
    return {"steps": steps, "label": label, "short": short}


@register.inclusion_tag("parts/price_rule.html")
def price_rule(**amounts: Any) -> dict[str, Any]:
    """The price range (`studio.web.drawings.price_rule` says which amounts)."""
    return {"rule": drawings.price_rule(**amounts)}


@register.inclusion_tag("parts/curve.html")
def curve(points: Any, **how: Any) -> dict[str, Any]:
    """Readings over time as a line, with the same readings as a table that opens below it."""
    return {"curve": drawings.curve(list(points), **how), "words": how.get("words", "")}


@register.inclusion_tag("parts/curve.html")
def drying_curve(points: Any, how: Any) -> dict[str, Any]:
    """The same with its fit, its band and when it will be dry, as the screen reckoned them (`drawings.curve`)."""
    return {"curve": drawings.curve(list(points), **how)}


@register.inclusion_tag("parts/pages.html", takes_context=True)
def pages(context: RequestContext, page: Any, things: str = "rows", key: str = "page") -> dict[str, Any]:
    """Links to the other pages of a list, `key` its word in the address; filters, sort and other lists are kept."""
    request = context.get("request")

    def url(number: int) -> str:
        query = request.GET.copy() if request else QueryDict(mutable=True)
        query[key] = str(number)
        return f"?{query.urlencode()}"

    shown = page.paginator.get_elided_page_range(page.number, on_each_side=1, on_ends=1)
    return {
        "page": page,
        "numbers": [(number, url(number) if isinstance(number, int) else "") for number in shown],
        "earlier": url(page.previous_page_number()) if page.has_previous() else "",
        "later": url(page.next_page_number()) if page.has_next() else "",
        "things": things,
    }


@register.filter
def undo_url(message: Any) -> str:
    return shell.undo_address(getattr(message, "extra_tags", ""))


@register.filter
def then_link(message: Any) -> tuple[str, str] | None:
    return shell.then_link(getattr(message, "extra_tags", ""))


@register.filter
def in_words(number: int) -> str:
    """Small numbers as words: `{{ n|in_words }}`."""
    return saying.in_words(number)
