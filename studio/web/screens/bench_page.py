"""One workpiece's page: the route it takes, what to do next, what it weighs, what it cost, where it came from."""

from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from studio.craft.waits import in_walking_order
from studio.equipment import queries as equipment
from studio.fields.quantity import show
from studio.people import settings as answers
from studio.people.roles import allowed
from studio.pictures.models import PictureLink
from studio.web import links
from studio.web.deeds import Reading
from studio.web.paging import paged
from studio.web.saying import day, local
from studio.web.screens.bench_base import DOING, DONE
from studio.web.screens.bench_dry_room import dry_room, wood_taps
from studio.web.screens.bench_drying import weights
from studio.web.screens.cure_words import into_the_warm, resin_words
from studio.web.screens.finish_words import on_its_finish
from studio.web.screens.round_lines import AT_THE_LATHE, CLOCKED, STARTS, Line, line, said_once
from studio.work import queries as work
from studio.work.models import ClockShare, Stage, Step, StepCode, StepState, Workpiece
from studio.work.queries import Page
from studio.work.queries.waits import waits_of


@dataclass(frozen=True)
class Act:
    """A thing to press: a link, or with `fields` a form of one button that carries a deed out."""

    word: str
    url: str
    fields: dict[str, str] = field(default_factory=dict)
    post: bool = False


class WorkpiecePage(Reading):
    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        user: Any = request.user
        now = timezone.now()
        costs = allowed(user, "see_costs")
        found = work.page(pk, costs=costs)
        if found is None:
            raise Http404("There is no such workpiece.")
        piece = found.workpiece
        place = equipment.inside_now([piece.account_id]).get(piece.account_id)
        context: dict[str, Any] = {
            "section": "wood",
            "page": found,
            "piece": piece,
            "place": place,
            "route": route(found, now),
            "sub": sub_sentence(found, user),
            "facts": facts(found),
            "resin_words": resin_words(found, now),
            "may_bench": allowed(user, "bench"),
            "hours": paged(request, hours(found, user), "hours"),
            "children": paged(request, found.children, "came"),
            "may_contacts": allowed(user, "contacts"),
            "may_money": allowed(user, "see_money"),
            "pictures": paged(request, photographs(piece), "photographs"),
            **weights(found, now),
        }
        context["finish"], acts = on_its_finish(piece, now)
        context["room"] = dry_room(found, context["out"], now, bench=context["may_bench"])
        context["weighings"] = paged(request, context["weighings"], "weighings")
        if allowed(user, "bench") and piece.closed_at is None:
            context["next"], context["also"] = next_and_also(found, place, dry=context["room"].stops is None)
            context["also"] += [Act(word, url) for word, url in into_the_warm(found, now) if place is None]
            context["more"] = [*more_acts(found), *(Act(word, url) for word, url in acts)]
        context["waits"] = what_waits(piece, place, context.get("next"), now, user)
        if costs:
            context["cost"] = cost = work.cost_table(piece)
            if piece.closed_at is None:
                context["to_come"] = ahead = work.still_to_come(piece, person=user, on=answers.local_date(now))
                context["known_to_come"] = bool(ahead.seconds or ahead.all_in_micro or not ahead.unknown)
                context["finished_paid_micro"] = cost.paid_out_micro + ahead.paid_out_micro
                context["finished_micro"] = cost.all_in_micro + ahead.all_in_micro
        return render(request, "bench/workpiece.html", context)


def what_waits(piece: Workpiece, place: Any, ahead: Act | None, now: datetime, user: Any) -> list[Line]:
    """The lines of the round that are about this one; the button that stands above in blue isn't said twice."""
    if piece.closed_at is not None:
        return []
    machine = [equipment.wait_of(place)] if place else []
    waits = in_walking_order(now, said_once([*filter(None, machine), *waits_of(piece, now)]))
    lines = [replace(line(wait, now, user), tags=()) for wait in waits]
    return [
        replace(one, button=None) if ahead and one.button and one.button.url == ahead.url else one for one in lines
    ]


def photographs(piece: Workpiece) -> list[PictureLink]:
    """Its own, then those of the wood it came from."""
    return [*piece.pictures.all(), *(piece.purchase.pictures.all() if piece.purchase else [])]


def sub_sentence(found: Page, user: Any) -> SafeString:
    """Elm burr, *Ulmus*, from a hedge near the mill. Held for a commission."""
    piece, purchase = found.workpiece, found.workpiece.purchase
    kind = piece.get_wood_kind_display() if piece.wood_kind not in ("", "plain") else ""
    wood = " ".join(word for word in (str(piece.species or ""), kind) if word)
    words = wood or "Wood not named yet"
    told = [format_html("{}", words[:1].upper() + words[1:])]
    if piece.species and piece.species.botanical_name:
        told.append(format_html("<i>{}</i>", piece.species.botanical_name))
    if purchase and purchase.where_it_stood:
        told.append(format_html("from {}", purchase.where_it_stood))
    said: list[str] = [format_html("{}.", format_html_join(", ", "{}", ((part,) for part in told)))]
    if piece.client_owned:
        owner = f", of {piece.owner}" if allowed(user, "contacts") and piece.owner else ""
        said.append(f"The client’s own wood{owner}: offcuts go back.")
    if piece.held:
        said.append(f"Held: {piece.hold_reason}." if allowed(user, "contacts") else "Held for somebody.")
    if piece.lost_number:
        said.append("It lost its number and lies somewhere unnamed.")
    return format_html_join(" ", "{}", ((sentence,) for sentence in said))


def facts(found: Page) -> list[tuple[str, str]]:
    """What is known of it beside its weight, each with its word."""
    piece = found.workpiece
    condition = [word for word in ("punky", "spalted", "checked") if getattr(piece, word)]
    if piece.bark != "none":
        condition.append(str(piece.get_bark_display()))
    sizes = [show(um, "length") for um in (piece.length_um, piece.width_um, piece.height_um) if um]
    rows = [("Condition", ", ".join(condition) or "sound"), ("Size", " × ".join(sizes)), ("Form", piece.form)]
    rows += [("What it is", piece.get_stage_display().lower())]
    for fill in found.fills:
        rows.append(("Cast with", f"{show(fill.share_mg, 'mass', unit='g')} of {fill.pour.system.name}"))
        seen = [str(one.get_what_display()) + (f" ({one.words})" if one.words else "") for one in fill.outcomes.all()]
        rows.append(("It came out", ", ".join(seen)))
    return [(word, said) for word, said in rows if said]


def hours(found: Page, user: Any) -> list[tuple[ClockShare, bool]]:
    """What was booked on it, oldest first, and whether this person may take it back."""
    own, all_of_them = allowed(user, "bench"), allowed(user, "others_hours")
    return [
        (share, share.run.taken_back_at is None and (all_of_them or (own and share.run.person_id == user.pk)))
        for share in found.hours
        if share.seconds
    ]


def next_step(steps: tuple[Step, ...]) -> Step | None:
    return next((step for step in steps if step.state in (StepState.OPEN, StepState.PLANNED)), None)


def route(found: Page, now: datetime) -> list[dict[str, Any]]:
    """The graduated rule: every step with how it stands and what was booked on it."""
    ahead, loss = next_step(found.steps), found.loss
    lost_at = next((s for s in found.steps if loss and s.code == loss.step and s.state != StepState.SKIPPED), None)
    rows = []
    for step in found.steps:
        state = {StepState.DONE: "done", StepState.SKIPPED: "skip"}.get(StepState(step.state), "later")
        if step == lost_at:
            state = "lost"
        elif found.workpiece.closed_at is None and step == ahead:
            state = "now"
        again = {1: "", 2: " again"}.get(step.attempt, f" ({step.attempt})")
        word = step.get_code_display() + again
        rows.append({"word": word, "state": state, "note": _note(step, now)})
    return rows


def _note(step: Step, now: datetime) -> str:
    if step.state == StepState.SKIPPED:
        return str(step.skipped_why)
    spent = show(step.hands_on_s, "duration") if step.hands_on_s else ""
    if step.state == StepState.DONE:
        if step.not_before and step.not_before > now:
            return f"rests until {day(*_days(step.not_before, now))}"
        return spent
    if step.state == StepState.OPEN:
        return f"{spent} so far" if spent else "begun"
    return ""


def _days(moment: datetime, now: datetime) -> tuple[Any, Any]:
    return local(moment)[0], local(now)[0]


def next_and_also(found: Page, place: Any, *, dry: bool = True) -> tuple[Act | None, list[Act]]:
    """The one thing to do next, in blue, and what is usually done beside it. `dry` is false for a blank that would be
    cast next and that a pour would refuse."""
    piece, ahead = found.workpiece, next_step(found.steps)
    also = [
        Act("It broke", links.to("workpiece_broke", piece.pk)),
        Act("Weigh", links.to("workpiece_weigh", piece.pk)),
    ]
    if ahead and ahead.code in AT_THE_LATHE:
        also.insert(0, Act("Lathe card", links.to("lathe_card", piece.pk)))
    if ahead:
        done = links.to("workpiece_step", piece.pk, ahead.code, "done")
        also.append(Act(DONE[StepCode(ahead.code)], done))
        if ahead.state == StepState.PLANNED:
            skip = links.to("workpiece_step", piece.pk, ahead.code, "skip")
            also.append(Act(f"Leave out {DOING[StepCode(ahead.code)]}", skip))
    if piece.stage == Stage.PIECE and (made := getattr(piece, "piece", None)) is not None:
        also.append(Act("See the piece", links.to("piece", made.pk)))
    clock = found.clock_runs[0].run if found.clock_runs else None
    if clock is not None:
        return Act("Stop the clock", links.to("clock_stop", clock.pk)), also
    if place is not None:
        return _linked("See the load", links.to("load", place.load_id)) or also.pop(1), also
    waiting = next((fill.pour for fill in found.fills if fill.pour.demoulded_at is None), None)
    if waiting is not None:
        return _linked("Take it out of the mould", links.to("pour", waiting.pk)), also
    if not dry:
        return _linked("Back into the oven", f"{links.to('load_start')}?workpiece={piece.pk}"), also
    return _begin(piece, ahead), also


def _begin(piece: Any, ahead: Step | None) -> Act | None:
    if ahead is None:
        if piece.stage == Stage.LUMP:
            return Act("Cut it up", links.to("workpiece_cut", piece.pk))
        if piece.stage == Stage.PIECE:
            return None
        return _linked("Call it a piece", links.to("piece_become", piece.pk))
    if ahead.code in CLOCKED:
        return Act("Start the clock", links.to("clock_start", piece.pk), {"code": ahead.code}, post=True)
    if ahead.code in STARTS:
        screen, word = STARTS[ahead.code]
        url = links.to(screen)
        return _linked(word.replace("them", "it"), f"{url}?workpiece={piece.pk}" if url else "")
    return None


def _linked(word: str, url: str) -> Act | None:
    return Act(word, url) if url else None


def more_acts(found: Page) -> list[Act]:
    """Everything else one may do with it, behind a fold."""
    piece = found.workpiece
    acts = [
        Act("Lathe card", links.to("lathe_card", piece.pk)),
        Act("Cut", links.to("workpiece_cut", piece.pk)),
        Act("Join with others", links.to("workpiece_join", piece.pk)),
        Act("Book hours", links.to("workpiece_hours", piece.pk)),
        Act("Use a material", links.to("workpiece_use", piece.pk)),
        Act("Add a photograph", links.to("workpiece_picture", piece.pk)),
        Act("Title, size, condition", links.to("workpiece_describe", piece.pk)),
        Act("Steps to come", links.to("workpiece_steps", piece.pk)),
        Act("Let it go" if piece.held else "Hold it", links.to("workpiece_hold", piece.pk)),
    ]
    acts += [Act("How does it look?", links.to("casting_seen", fill.pk)) for fill in found.fills[-1:]]
    acts += [Act(tap.word, tap.url, post=True) for tap in wood_taps(piece)]
    done = next((step for step in reversed(found.steps) if step.state == StepState.DONE), None)
    waits = {step.code for step in found.steps if step.state in (StepState.OPEN, StepState.PLANNED)}
    if done and done.code not in waits:
        word = f"{done.get_code_display()} once more"
        acts.append(Act(word, links.to("workpiece_step", piece.pk, done.code, "again")))
    if not piece.lost_number:
        acts.append(Act("It lost its number", links.to("workpiece_unnumbered", piece.pk), post=True))
    if piece.client_owned:
        acts.append(Act("Give it back", links.to("workpiece_give_back", piece.pk)))
    if piece.purchase_id:
        acts.append(Act("The wood it came from", links.to("purchase", piece.purchase_id)))
    ahead = next_step(found.steps)
    twice = "Lathe card" if ahead and ahead.code in AT_THE_LATHE else ""
    return [act for act in acts if act.url and act.word != twice]
