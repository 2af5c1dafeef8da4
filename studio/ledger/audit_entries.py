"""What the audit asks of each entry: that it balances, is whole, and was never anything else."""

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from datetime import date, timedelta

from django.db.models import Count, Exists, F, OuterRef, Q, Sum
from django.db.models.functions import Coalesce

from studio.fields.models import Submission
from studio.ledger.accounts import Component
from studio.ledger.journal import BooksClosed, Entry, Line

CODE = re.compile(r"[a-z][a-z0-9_]*")
EARLIEST = date(1900, 1, 1)
# No place on earth is further than this from the day it is in London.
A_DAY = timedelta(days=1)


def balanced() -> Iterator[str]:
    """Rule 1: values add up to nothing, amounts to nothing for each material; there are lines at all."""
    values = Line.objects.values_list("entry").annotate(total=Sum("value_micro")).exclude(total=0)
    for entry, total in values.order_by("entry"):
        yield f"Entry {entry}: its values leave {total} millionths."
    amounts = Line.objects.values_list("entry", "commodity").annotate(total=Sum("amount")).exclude(total=0)
    for entry, commodity, total in amounts.order_by("entry", "commodity"):
        yield f"Entry {entry}: its amounts of commodity {commodity} leave {total}."
    alone = Entry.objects.annotate(count=Count("lines")).filter(count__lt=2)
    for entry, count in alone.order_by("pk").values_list("pk", "count"):
        yield f"Entry {entry} has {count} lines; lines of it are missing."
    orphans = Line.objects.exclude(Exists(Entry.objects.filter(pk=OuterRef("entry_id"))))
    for entry in sorted(set(orphans.values_list("entry_id", flat=True))):
        yield f"Entry {entry} is missing; there are lines of it."


def one_row_each() -> Iterator[str]:
    """Rule 1: one row for each account, component, material and destination in an entry."""
    rows = Line.objects.annotate(of=Coalesce("commodity_id", 0), to=Coalesce("towards_id", 0))
    twice = rows.values_list("entry", "account", "component", "of", "to").annotate(count=Count("pk"))
    for entry, account, part, _, _, count in twice.filter(count__gt=1).order_by("entry", "account"):
        yield f"Entry {entry} has {count} lines for account {account} and {part}, where one belongs."


def components_survive() -> Iterator[str]:
    """Rule 6: where no money changes hands, each component leaves one account as it reaches another."""
    paid = Line.objects.filter(entry=OuterRef("entry"), component=Component.MONEY)
    rows = (
        Line.objects.exclude(Exists(paid))
        .values_list("entry", "component")
        .annotate(total=Sum("value_micro"))
        .exclude(total=0)
    )
    for entry, part, total in rows.order_by("entry", "component"):
        yield f"Entry {entry} turns its part {part} into another: {total} millionths of it are left over."


def reversals() -> Iterator[str]:
    """Rule 10: a reversal is the mirror image of its entry, comes after it, alone, and is never reversed."""
    undone = dict(Entry.objects.filter(reverses__isnull=False).order_by("pk").values_list("pk", "reverses_id"))
    of_both = Q(entry__reverses__isnull=False) | Q(Exists(Entry.objects.filter(reverses=OuterRef("entry_id"))))
    lines: dict[int, list[tuple]] = defaultdict(list)
    names = ("account_id", "component", "commodity_id", "towards_id", "amount", "value_micro")
    for entry, *rest in Line.objects.filter(of_both).values_list("entry_id", *names).iterator():
        lines[entry].append(tuple(rest))
    seen: dict[int, int] = {}
    for mirror, entry in undone.items():
        if entry in seen:
            yield f"Entry {entry} was reversed twice, by {seen[entry]} and by {mirror}."
        seen[entry] = mirror
        if entry in undone:
            yield f"Entry {mirror} reverses {entry}, which is itself a reversal."
        turned = [(*key, _turned(amount), _turned(value)) for *key, amount, value in lines[entry]]
        if sorted(turned, key=repr) != sorted(lines[mirror], key=repr):
            yield f"Entry {mirror} is not the mirror image of entry {entry}, which it reverses."
    early = Entry.objects.filter(reverses__effective_at__gt=F("effective_at")).order_by("pk")
    for mirror, entry in early.values_list("pk", "reverses"):
        yield f"Entry {mirror} takes back entry {entry} before it happened."


def _turned(figure: object) -> object:
    """A cell that was tampered with may hold anything; `audit.whole_numbers` says so."""
    return -figure if isinstance(figure, (int, float)) else figure


def times() -> Iterator[str]:
    """Rules 1 and 10: nothing was written before it happened, or into a period closed by then."""
    ahead = Entry.objects.filter(effective_at__gt=F("recorded_at")).order_by("pk")
    for pk in ahead.values_list("pk", flat=True):
        yield f"Entry {pk} was written down before it happened."
    for pk, at, on in Entry.objects.order_by("pk").values_list("pk", "effective_at", "effective_on").iterator():
        if abs(at.date() - on) > A_DAY or on < EARLIEST:
            yield f"Entry {pk} counts on {on}, which is not the day it happened."
    for until, closed_at in BooksClosed.objects.order_by("pk").values_list("until", "at"):
        late = Entry.objects.filter(effective_on__lte=until, recorded_at__gt=closed_at).order_by("pk")
        for pk in late.values_list("pk", flat=True):
            yield f"Entry {pk} counts on a day up to {until}, closed before it was written."


def codes() -> Iterator[str]:
    """Rule 13: kinds and steps are codes of the program, never words about somebody."""
    for kind, step in Entry.objects.order_by("kind", "step").values_list("kind", "step").distinct():
        for word in (kind, step):
            if word and not CODE.fullmatch(word):
                yield f"There are entries with the words {word!r} where a code belongs."


def submissions() -> Iterator[str]:
    """Rule 12: a key counts once for each person, and an entry belongs to the one whose form made it."""
    twice = Submission.objects.values_list("actor", "key").annotate(count=Count("pk")).filter(count__gt=1)
    for actor, key, count in twice.order_by("actor", "key"):
        yield f"The form {key} of person {actor} was carried out {count} times."
    others = Entry.objects.filter(submission__isnull=False).exclude(by=F("submission__actor"))
    for pk in others.order_by("pk").values_list("pk", flat=True):
        yield f"Entry {pk} came from a form that somebody else sent."


CHECKS: tuple[Callable[[], Iterable[str]], ...] = (
    balanced,
    one_row_each,
    components_survive,
    reversals,
    times,
    codes,
    submissions,
)
