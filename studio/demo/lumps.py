"""Wood comes in, is cleaned, and is cut into blanks."""

import math
from datetime import timedelta
from typing import Any

from studio.demo.shop import Job, Shop, minutes
from studio.demo.story import GRAM, MONEY, Form, LumpPlan
from studio.equipment.queries import mould_mm3
from studio.people.models import User
from studio.wood import operations as wood
from studio.work import operations as work
from studio.work.models import StepCode, Workpiece

# Wood between the blanks: bark, saw kerfs, bad ends.
KEPT = 0.78
DAMP = (22, 48)
PLAIN = (StepCode.ROUGH, StepCode.REST, StepCode.TURN, StepCode.SAND, StepCode.FINISH)
CAST = (StepCode.DRY, StepCode.CAST, StepCode.TURN, StepCode.SAND, StepCode.FINISH)
SOAKED = (StepCode.DRY, StepCode.STABILIZE, StepCode.CAST, StepCode.TURN, StepCode.SAND, StepCode.FINISH)
CERTAINTY = ("certain", "likely")


def wood_comes(shop: Shop) -> None:
    """Will take in the lumps whose day has come."""
    come = shop.counts.get("lumps", 0)
    for plan in shop.story.lumps[come:]:
        if shop.calendar.day(plan.day) > shop.day:
            return
        _take_in(shop, plan)
        shop.count("lumps")


def _take_in(shop: Shop, plan: LumpPlan) -> None:
    at = shop.at(10, 20)
    masses = [_dry_mg(shop, shop.story.forms[name], plan.species) for name in plan.makes]
    shop.marks[f"masses {plan.number}"] = masses
    damp = shop.between(*DAMP)
    shop.marks[f"damp {plan.number}"] = damp
    mass = round(sum(masses) * (100 + damp) / 100 / KEPT) or shop.between(1800, 2600) * GRAM
    if plan.whole:
        masses.append(_dry_mg(shop, shop.story.forms[plan.whole], plan.species))
        mass = masses[0] * (100 + damp) // 100
    lump = work.take_in_lump(
        at=at,
        by=shop.owner,
        mass_mg=_whole_grams(mass),
        paid_micro=plan.paid_micro,
        carriage_micro=plan.carriage_micro,
        how=plan.how,
        market_value_micro=plan.market_micro,
        now=at,
        **_known(shop, plan),
    )
    if plan.punky or plan.spalted:
        lump = work.describe(workpiece=lump, punky=plan.punky, spalted=plan.spalted)
    shop.bench.lumps.append((plan, lump))


def _known(shop: Shop, plan: LumpPlan) -> dict[str, Any]:
    """What is told of a purchase at once; of a bare one nothing is."""
    if plan.bare:
        known: dict[str, Any] = {"note": plan.note}
        if plan.species:
            known |= {"species": shop.species[plan.species], "kind": plan.kind}
        return known
    known = {
        "species": shop.species[plan.species],
        "species_certainty": CERTAINTY[plan.number % 7 == 0],
        "kind": plan.kind,
        "where_it_stood": plan.where,
        "country": "FI",
        "waxed": "yes" if plan.kind == "burr" else "no",
        "note": plan.note,
    }
    if plan.supplier:
        known["supplier"] = shop.suppliers[plan.supplier]
    return known


def clean_and_cut(shop: Shop) -> None:
    """Will clean the lumps that came yesterday or before, and cut the first that was cleaned."""
    for plan, lump in list(shop.bench.lumps):
        if plan.uncut or lump.made_at.date() >= shop.day:
            continue
        if shop.left == 0 and not plan.late:
            continue
        _clean(shop, lump)
        shop.bench.lumps.remove((plan, lump))
        if plan.whole:
            _leave_whole(shop, plan, lump)
        else:
            _cut(shop, plan, lump)
        return


def _clean(shop: Shop, lump: Workpiece, hour: int = 11) -> None:
    at, person = shop.at(hour, 5), maker(shop)
    seconds = shop.between(15, 45) * 60
    work.add_hours(person=person, workpieces=[lump], code=StepCode.CLEAN, seconds=seconds, at=at, by=person, now=at)
    shop.worked(person, seconds)
    work.end_step(workpiece=lump, code=StepCode.CLEAN, at=at, person=person)


def _cut(shop: Shop, plan: LumpPlan, lump: Workpiece) -> None:
    at = shop.at(11, 40)
    forms = [shop.story.forms[name] for name in plan.makes]
    masses: list[int] = shop.marks.pop(f"masses {plan.number}")  # type: ignore[assignment]
    damp: int = shop.marks.pop(f"damp {plan.number}")  # type: ignore[assignment]
    wet = [_whole_grams(mass * (100 + damp) // 100) for mass in masses]
    soak = plan.punky or plan.spalted
    blanks = [
        work.BlankSpec(weight=1 if plan.equal else mass // GRAM, mass_mg=mass, form=form.name)
        for form, mass in zip(forms, wet, strict=True)
    ]
    route = SOAKED if soak else CAST
    if not any(form.mould for form in forms):
        route = PLAIN
    made = work.cut(parent=lump, blanks=blanks, route=route, at=at, by=maker(shop), now=at)
    for row, form, mass, dry in zip(made, forms, wet, masses, strict=True):
        if route is not PLAIN and not form.mould:
            work.plan_steps(workpiece=row, codes=PLAIN)
        job = Job(row, form, plan.species, mass, dry, plan.number, plan.kind, soak and bool(form.mould))
        job.late = plan.late
        job.turn_min = shop.between(*form.turn_min)
        (shop.bench.to_dry if job.cast else shop.bench.to_rough).append(job)


def _leave_whole(shop: Shop, plan: LumpPlan, lump: Workpiece) -> None:
    """What is cast as it came: a handful of cones."""
    form = shop.story.forms[plan.whole]
    work.describe(workpiece=lump, form=form.name)
    work.plan_steps(workpiece=lump, codes=CAST)
    masses: list[int] = shop.marks.pop(f"masses {plan.number}")  # type: ignore[assignment]
    damp: int = shop.marks.pop(f"damp {plan.number}")  # type: ignore[assignment]
    job = Job(
        lump, form, plan.species, _whole_grams(masses[0] * (100 + damp) // 100), masses[0], plan.number, plan.kind
    )
    job.turn_min = shop.between(*form.turn_min)
    job.waits_for = "the last pour"
    shop.bench.to_dry.append(job)


def maker(shop: Shop) -> User:
    """Whose turn it is at the bench."""
    return shop.users["tam" if shop.chance(0.45) else "ines"]


def _dry_mg(shop: Shop, form: Form, species: str) -> int:
    """What a blank for this form will weigh without water: its part of the mould, or of its own block."""
    density = shop.story.species[species]["density"]
    if form.mould:
        room = mould_mm3(shop.moulds[form.mould]) * form.wood
    else:
        across, high = form.blank_mm
        room = math.pi / 4 * across**2 * high
    # mm³ times kg/m³ is thousandths of a milligram
    return round(room * density / 1000 * shop.between(90, 106) / 100)


def _whole_grams(mg: int) -> int:
    return max(GRAM, round(mg / GRAM) * GRAM)


def late_bill(shop: Shop) -> None:
    """Will book a bill for a lump most of which has become pieces by now."""
    lump = next(plan for plan in shop.story.lumps if plan.kind == "burr" and plan.number > 10)
    at = shop.at(9, 40)
    row = Workpiece.objects.select_related("purchase").get(number=str(lump.number))
    assert row.purchase is not None
    work.add_wood_bill(
        purchase=row.purchase,
        amount_micro=37 * MONEY,
        what=shop.story.words["late_bill"],
        at=at,
        by=shop.owner,
        now=at,
    )


def clients_wood_comes(shop: Shop) -> None:
    """Will take in wood that stays the client's own, and cut it the same day: one blank, and an offcut."""
    at = shop.at(13, 10)
    form = shop.story.forms["small vessel for ashes"]
    client = shop.clients["Paal Winter"]
    dry = _dry_mg(shop, form, "rowan")
    wet = _whole_grams(dry * 126 // 100)
    lump = work.take_in_clients_wood(
        owner=client,
        number="W1",
        mass_mg=_whole_grams(wet * 19 // 10),
        species=shop.species["rowan"],
        wood_kind="plain",
        at=at,
        now=at,
        by=shop.owner,
    )
    _clean(shop, lump, 14)
    blanks = [
        work.BlankSpec(weight=1, mass_mg=wet, form=form.name),
        work.BlankSpec(weight=0, mass_mg=_whole_grams(wet * 6 // 10), title="Offcut, goes back"),
    ]
    cut_at = at + minutes(70)
    vessel, offcut = work.cut(parent=lump, blanks=blanks, route=CAST, at=cut_at, by=shop.owner, now=cut_at)
    work.plan_steps(workpiece=offcut, codes=[])
    job = Job(vessel, form, "rowan", wet, dry, 0, waits_for="clients_own")
    job.turn_min = shop.between(*form.turn_min)
    shop.bench.to_dry.insert(0, job)
    shop.marks["offcut"] = offcut


def tell_the_desk(shop: Shop) -> None:
    """Will note the paper that came with an early purchase."""
    row = Workpiece.objects.select_related("purchase").get(number="8")
    assert row.purchase is not None
    wood.describe_purchase(
        purchase=row.purchase,
        document_note="Letter of the landowner, 14 lines, in the blue folder.",
        at=shop.at(16, 5) - timedelta(minutes=2),
        by=shop.owner,
    )


def offcut_goes_back(shop: Shop) -> None:
    """Will hand the client what was left of the wood that stays the client's own."""
    offcut: Workpiece = shop.marks["offcut"]  # type: ignore[assignment]
    at = shop.at(15, 30)
    work.give_back(workpiece=offcut, at=at, by=shop.owner, now=at)
