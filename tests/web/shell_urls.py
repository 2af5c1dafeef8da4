"""Addresses that stand in for screens while the shell is tested: every word of the header leads to one page."""

from collections.abc import Callable
from datetime import UTC, datetime

from django import forms
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse
from django.template import engines
from django.urls import include, path
from django.utils import timezone

from studio.fields import quantity
from studio.people import roles
from studio.people.models import User
from studio.web import errors
from studio.web.forms import Camera, StudioForm, Typed
from studio.web.shell import WORDS, said

PAGE = """{% extends "base.html" %}{% load studio %}{% block title %}A page{% endblock %}{% block main %}
<h1>A page with a little of everything</h1><p class="sub">Turn {% tag "33/1" "/pieces/" label="blank" %} today.</p>
{% route steps %}{% price_rule lowest=672000000 ask=730000000 like_low=640000000 like_high=900000000 like_count=14 %}
<form method="post" class="sheet">{% csrf_token %}{% submission %}{{ form }}
<p class="actions"><button class="do">Store it</button> <a class="plain" href="/">Leave it</a></p></form>
{% endblock %}"""
BENCH = """{% extends "base_bench.html" %}{% load studio %}{% block title %}Pour{% endblock %}
{% block left %}{% tag "36/2" "/" %}{% endblock %}{% block heading %}Tide bowl{% endblock %}{% block main %}
<div class="scale"><div class="label">Add <b>Part B</b> until it shows</div><div class="target">1282</div></div>
<form class="ask" method="post">{% csrf_token %}<label for="shows">Scale shows</label><input id="shows" name="shows">
<button class="do">On target</button></form>{% endblock %}
{% block foot %}<div class="clock"><span>Lid shut by 14:32</span>{% clock at "down" form="seconds" %}</div>
{% endblock %}"""
STEPS = [
    {"word": "Clean", "state": "done", "note": "40 min", "url": "/pieces/"},
    {"word": "Stabilize", "state": "skip", "note": "dense, sound"},
    {"word": "Turn", "state": "now", "note": "2 h 10 so far"},
    {"word": "Finish", "state": "later"},
]


class Lump(StudioForm):
    fieldsets = (("How it was got", ("paid", "why", "lost")),)
    number = forms.CharField(label="Number on the lump", help_text="Pencilled <on> the end.")
    weight = forms.CharField(label="What does it weigh?", widget=Typed())
    photo = forms.FileField(label="A photograph", required=False, widget=Camera())
    paid = forms.CharField(label="What was paid?", required=False)
    why = forms.ChoiceField(label="Why?", choices=[("a", "Catch"), ("b", "Check ran")], widget=forms.RadioSelect)
    seen = forms.MultipleChoiceField(
        label="What was seen?", required=False, choices=[("c", "Checks")], widget=forms.CheckboxSelectMultiple
    )
    waxed = forms.BooleanField(label="Waxed at the ends", required=False, help_text="Sealer or wax.")


class AsOwner:
    """Everybody is the owner: for pages served without sessions."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.user = User(username="ilse", display_name="Ilse", role="owner", is_active=True)
        return self.get_response(request)


def page(request: HttpRequest, lump: int = 0) -> HttpResponse:
    form = Lump(request.POST or None)
    body = engines["django"].from_string(PAGE).render({"form": form, "steps": STEPS}, request)
    return HttpResponse(body)


def bench(request: HttpRequest) -> HttpResponse:
    return HttpResponse(engines["django"].from_string(BENCH).render({"at": timezone.now()}, request))


def speak(request: HttpRequest) -> HttpResponse:
    said(request, "41/3 weighed <412 g>", undo="/undo/7/")
    said(request, "Nothing to take back")
    return page(request)


def written(request: HttpRequest) -> HttpResponse:
    hour = timezone.localtime(datetime(2025, 7, 1, 10, 0, tzinfo=UTC)).hour
    return HttpResponse(f"{quantity.show(1_234_560_000, 'money')} at {hour}")


def locked(request: HttpRequest) -> HttpResponse:
    raise OperationalError("database is locked")


def broken(request: HttpRequest) -> HttpResponse:
    raise OperationalError("no such table: shavings")


def may_not(request: HttpRequest) -> HttpResponse:
    roles.require(request.user, "see_money")
    return HttpResponse("the books")


def stale(request: HttpRequest) -> HttpResponse:
    return errors.conflict(request, "Tom weighed it.", back="/wood/", changed=[("Weight", "412 g", "<408 g>")])


_PLACES = {word.url_name: "" if word.url_name == "round" else f"{word.url_name}/" for word in WORDS}
urlpatterns = [
    *(path(place, page, name=name) for name, place in _PLACES.items()),
    path("wood/<int:lump>/", page, name="lump"),
    path("bench/", bench),
    path("speak/", speak),
    path("written/", written),
    path("locked/", locked),
    path("broken/", broken),
    path("may-not/", may_not),
    path("stale/", stale),
    path("", include("studio.config.urls")),
]
handler404 = "studio.config.errors.not_found"
handler500 = "studio.config.errors.broken"
