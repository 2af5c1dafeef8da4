"""Cups for swirls: what is asked of them, what is said of them, and when they go in."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from django import forms

from studio.fields.forms import QuantityField
from studio.fields.listing import listed
from studio.fields.quantity import show
from studio.stores.models import Material
from studio.web.forms import Typed
from studio.work import operations as work
from studio.work.queries import PourPlan, SwirlWanted

COLOURS_IN_CUP = 2


def names_of(cup: int) -> list[str]:
    colours = [name for n in range(COLOURS_IN_CUP) for name in (f"colour_{cup}_{n}", f"strength_{cup}_{n}")]
    return [f"takes_{cup}", *colours, f"into_{cup}"]


def add_swirl(form: forms.Form, cup: int, rows: int, colours: list[tuple[str, str]]) -> None:
    """Put what is asked of one cup into the form of a plan of so many moulds."""
    form.fields[f"takes_{cup}"] = QuantityField(
        dimension="share", required=False, widget=Typed(), least=1, most=1_000_000,
        label="How much of the mix goes into the cup?", help_text="Percent. Empty: no such cup.",
    )  # fmt: skip
    for n in range(COLOURS_IN_CUP):
        form.fields[f"colour_{cup}_{n}"] = forms.ChoiceField(
            choices=[("", "None"), *colours], required=False,
            label="And which other colour?" if n else "Which colour?",
        )  # fmt: skip
        form.fields[f"strength_{cup}_{n}"] = QuantityField(
            dimension="share", required=False, widget=Typed(), least=1, most=1_000_000,
            label="How much of that?" if n else "How much colour?", help_text="Percent of the cup.",
        )  # fmt: skip
    moulds = [(str(row), f"Mould {row + 1}") for row in range(rows)] if rows > 1 else []
    form.fields[f"into_{cup}"] = forms.ChoiceField(
        choices=[("", "All of them" if moulds else "The mould"), *moulds], required=False, label="Into which mould?"
    )


def check_swirls(form: forms.Form, data: Mapping[str, Any], cups: Iterable[int], filled: Sequence[int]) -> None:
    """`filled`: the moulds something was said of, by their place on the form."""
    for cup in cups:
        if not data.get(f"takes_{cup}"):
            continue
        into = data.get(f"into_{cup}")
        if into and int(into) not in filled:
            form.add_error(f"into_{cup}", "Nothing is poured into that mould. Choose another, or all of them.")
        for n in range(COLOURS_IN_CUP):
            name, chosen = f"strength_{cup}_{n}", data.get(f"colour_{cup}_{n}")
            if chosen and data.get(name) is None and name not in form.errors:
                form.add_error(name, "Say how much of it: 2 is two percent of what is in the cup.")
        if not data.get(f"colour_{cup}_0") and f"colour_{cup}_0" not in form.errors:
            form.add_error(f"colour_{cup}_0", "Choose the colour of this cup, or leave its share empty.")


def read_swirls(
    data: Mapping[str, Any], cups: Iterable[int], filled: Sequence[int], of: Mapping[str, Material]
) -> tuple[SwirlWanted, ...]:
    found = []
    for cup in cups:
        if not data.get(f"takes_{cup}"):
            continue
        into = data.get(f"into_{cup}")
        pairs = [(data.get(f"colour_{cup}_{n}"), data.get(f"strength_{cup}_{n}")) for n in range(COLOURS_IN_CUP)]
        colours = tuple((of[pk], ppm) for pk, ppm in pairs if pk and ppm and pk in of)
        found.append(SwirlWanted(data[f"takes_{cup}"], colours, filled.index(int(into)) if into else None))
    return tuple(found)


def swirl_words(plan: PourPlan) -> list[str]:
    """Each cup with its grams, what is stirred into it, and where it goes."""
    found = []
    for number, cup in enumerate(plan.swirls, start=1):
        colours = listed(f"{show(mg, 'mass')} of {of.name}" for of, mg in cup.colours)
        into = "" if cup.wanted.into is None else f", all into {_mould(plan, cup.wanted.into)}"
        found.append(f"Swirl cup {number}: {show(cup.taken_mg, 'mass')} of the mix, {colours} stirred in{into}.")
    return found


def _mould(plan: PourPlan, place: int) -> str:
    if place >= len(plan.fills):
        return f"mould {place + 1}"
    mould = plan.fills[place].wanted.mould
    return mould.name if mould else f"mould {place + 1}"


def window_words(plan: PourPlan) -> str:
    """When the cups go in, before the parts have met."""
    if not plan.swirls:
        return ""
    if plan.window is None:
        return "When they go in isn't known for so much resin: when a drop keeps its edge, and before it strings."
    if not plan.window.open:
        return ""
    since, until = show(plan.window.from_s, "duration"), show(plan.window.until_s, "duration")
    return f"They go in not before {since} and not after {until} from when A meets B."


def window_at(plan: PourPlan, began: datetime | None) -> tuple[datetime, datetime] | None:
    """The same as two moments."""
    if began is None or plan.window is None or not plan.window.open:
        return None
    return began + timedelta(seconds=plan.window.from_s), began + timedelta(seconds=plan.window.until_s)


def add_taken(form: forms.Form, plan: PourPlan) -> None:
    """What was really taken and stirred in, at the booking."""
    for place, cup in enumerate(plan.swirls):
        form.fields[f"taken_{place}"] = QuantityField(
            dimension="mass", least=0, widget=Typed(), label=f"Swirl cup {place + 1}: how much of the mix?",
            initial=cup.taken_mg, help_text="0 if there was no such cup.",
        )  # fmt: skip
        for n, (of, mg) in enumerate(cup.colours):
            form.fields[f"taken_{place}_{n}"] = QuantityField(
                dimension="mass", least=0, widget=Typed(), label=f"{of.name} in it", initial=mg
            )


def taken_names(plan: PourPlan) -> dict[str, int]:
    """What is asked of the cups at the booking, each with the milligrams that were planned."""
    found = {}
    for place, cup in enumerate(plan.swirls):
        found[f"taken_{place}"] = cup.taken_mg
        found |= {f"taken_{place}_{n}": mg for n, (_, mg) in enumerate(cup.colours)}
    return found


def taken(plan: PourPlan, data: Mapping[str, Any]) -> list[work.SwirlIn]:
    """The cups as they were really taken; one of nothing was none."""
    found = []
    for place, cup in enumerate(plan.swirls):
        if not data.get(f"taken_{place}"):
            continue
        pairs = [(of, data.get(f"taken_{place}_{n}") or 0) for n, (of, _) in enumerate(cup.colours)]
        colours = [work.ColourIn(of, mg) for of, mg in pairs if mg]
        found.append(work.SwirlIn(data[f"taken_{place}"], colours, cup.wanted.into))
    return found
