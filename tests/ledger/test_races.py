"""Many hands at once: separate processes, on a database of their own, let go at the same moment.

Beside each race stands what happens without the guard, so that the race is known to be one.
"""

import json
import os
from collections import Counter

import pytest

from tests.ledger.scratch import Scratch

pytestmark = [
    pytest.mark.race,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="the hands of this race are made by fork"),
]

WORKERS = 16
STOCK = 150
EACH = 15  # 16 x 15 = 240 are wanted of 150

# One process gets everything ready and divides; its children open connections of their own and start together.
DIVIDE = """
import json, multiprocessing, sys, traceback

def child(barrier, answers, arguments):
    try:
        barrier.wait(60)
        answers.put(work(*arguments))
    except BaseException:
        answers.put({"fault": traceback.format_exc()})

together = multiprocessing.get_context("fork")
arguments = json.loads(sys.argv[1])
barrier, answers = together.Barrier(len(arguments)), together.Queue()
children = [together.Process(target=child, args=(barrier, answers, each)) for each in arguments]
for process in children:
    process.start()
said = [answers.get(timeout=200) for _ in children]
for process in children:
    process.join()
print(json.dumps(said))
"""
SETUP = f"""
books = Books(User.objects.get())
batch = books.batch({STOCK}, {STOCK} * 3 * COIN)
piece = books.workpiece()
pool(Kind.USED_UP)
print(batch.pk, piece.pk)
"""
DRAW = """
def work(batch, piece, times):
    from studio.ledger.errors import RunsOut
    books = Books(User.objects.get())
    batch, piece = fresh(Account(pk=batch)), fresh(Account(pk=piece))
    said = {"sold": 0, "told": 0}
    for _ in range(times):
        try:
            books.draw((batch, 1), to=[(piece, 1)])
            said["sold"] += 1
        except RunsOut:
            said["told"] += 1
    return said
"""
# Reads what is left, decides, writes what it reckons is left then: as a program without a lock would.
DRAW_UNGUARDED = """
def work(batch, piece, times):
    from django.db import connection
    connection.transaction_mode = None
    said = {"sold": 0, "told": 0}
    for _ in range(times):
        row = fresh(Account(pk=batch))
        if row.amount < 1:
            said["told"] += 1
            continue
        row.amount -= 1
        row.value_micro = row.amount * 3 * COIN
        row.save()
        said["sold"] += 1
    return said
"""
SUBMIT = """
def work(batch, piece, keys):
    from studio.fields.submissions import carry_out
    maker = User.objects.get()
    books = Books(maker)
    batch, piece = fresh(Account(pk=batch)), fresh(Account(pk=piece))
    said = {"done": 0, "replayed": 0, "answers": []}
    for key in range(keys):
        def do(row):
            from studio.ledger.operations import Draw, use_up
            posted = use_up(
                draws=[Draw(batch, 1, Component.RESIN)], shares=[(piece, 1)],
                at=day(2), by=maker, submission=row, now=NOW,
            )
            return str(posted.entry_id)
        outcome = carry_out(actor=maker, key=f"key {key}", body={"amount": ["1"]}, at=NOW, do=do)
        said["replayed" if outcome.replayed else "done"] += 1
        said["answers"].append(outcome.result)
    return said
"""
SUBMIT_UNGUARDED = SUBMIT.replace(
    'carry_out(actor=maker, key=f"key {key}", body={"amount": ["1"]}, at=NOW, do=do)',
    "type('Outcome', (), {'result': do(None), 'replayed': False})",
)
REVERSE = """
def work(entry):
    from studio.ledger.errors import AlreadyReversed
    books = Books(User.objects.get())
    said = {"reversed": 0, "told": 0}
    try:
        operations.reverse(entry_id=entry, at=day(30), by=books.by, now=NOW)
        said["reversed"] += 1
    except AlreadyReversed:
        said["told"] += 1
    return said
"""
# Posts the mirror image by hand, without the entry being held or the reversal being named.
REVERSE_UNGUARDED = """
def work(entry):
    from studio.ledger.journal import Leg, post
    entry = Entry.objects.get(pk=entry)
    said = {"reversed": 0, "told": 0}
    legs = [
        Leg(row.account, Component(row.component), -row.value_micro, -row.amount, row.commodity, row.towards)
        for row in entry.lines.select_related("account", "commodity", "towards")
    ]
    post(kind="reversal", legs=legs, at=day(30), by=User.objects.get(), now=NOW)
    said["reversed"] += 1
    return said
"""
CROSSWISE = """
def work(one, two, piece, late):
    books = Books(User.objects.get())
    one, two, piece = (fresh(Account(pk=pk)) for pk in (one, two, piece))
    for _ in range(12):
        if late:
            books.late(two, COIN)
        else:
            books.draw((one, 1), (two, 1), to=[(piece, 1)])
    return {"done": 1}
"""


def race(scratch: Scratch, code: str, arguments: list[list[int]]) -> list[dict]:
    """Let one process for each set of arguments go at the same moment; what each came back with."""
    said = json.loads(scratch.python(code + DIVIDE, json.dumps(arguments)))
    faults = [one["fault"] for one in said if "fault" in one]
    assert not faults, faults[0]
    return said


def total(said: list[dict]) -> Counter[str]:
    return sum(
        (Counter({key: count for key, count in one.items() if isinstance(count, int)}) for one in said), Counter()
    )


def left(scratch: Scratch, batch: int) -> int:
    return int(scratch.python("import sys; print(fresh(Account(pk=int(sys.argv[1]))).amount)", batch))


def audited(scratch: Scratch) -> str:
    done = scratch.manage("audit")
    return done.stdout.splitlines()[-1].split(" in ")[0] if done.returncode in (0, 1) else done.stderr


def test_the_last_gram_is_drawn_once_however_many_want_it(scratch: Scratch) -> None:
    batch, piece = _set_up(scratch)
    said = race(scratch, DRAW, [[batch, piece, EACH]] * WORKERS)
    assert total(said) == {"sold": STOCK, "told": WORKERS * EACH - STOCK}
    assert left(scratch, batch) == 0
    assert audited(scratch) == "0 differences"


def test_without_the_lock_more_is_sold_than_there_was(scratch: Scratch) -> None:
    batch, piece = _set_up(scratch)
    said = race(scratch, DRAW_UNGUARDED, [[batch, piece, EACH]] * WORKERS)
    assert total(said)["sold"] > STOCK - left(scratch, batch)


def test_a_form_sent_by_many_at_once_counts_once(scratch: Scratch) -> None:
    batch, piece = _set_up(scratch)
    keys = 10
    said = race(scratch, SUBMIT, [[batch, piece, keys]] * WORKERS)
    assert total(said) == {"done": keys, "replayed": keys * (WORKERS - 1)}
    assert len({tuple(one["answers"]) for one in said}) == 1
    assert left(scratch, batch) == STOCK - keys
    assert audited(scratch) == "0 differences"


def test_without_its_key_a_form_sent_by_many_counts_for_each(scratch: Scratch) -> None:
    batch, piece = _set_up(scratch)
    said = race(scratch, SUBMIT_UNGUARDED, [[batch, piece, 2]] * WORKERS)
    assert total(said)["done"] == 2 * WORKERS
    assert left(scratch, batch) == STOCK - 2 * WORKERS


def test_an_entry_is_taken_back_once_however_many_try(scratch: Scratch) -> None:
    batch, piece = _set_up(scratch)
    entry = _drawn(scratch, batch, piece)
    assert left(scratch, batch) == STOCK - 2
    said = race(scratch, REVERSE, [[entry]] * WORKERS)
    assert total(said) == {"reversed": 1, "told": WORKERS - 1}
    assert left(scratch, batch) == STOCK
    assert audited(scratch) == "0 differences"


def test_without_naming_what_it_reverses_it_is_taken_back_again_and_again(scratch: Scratch) -> None:
    batch, piece = _set_up(scratch)
    entry = _drawn(scratch, batch, piece)
    _drawn(scratch, batch, piece, 100)
    said = race(scratch, REVERSE_UNGUARDED, [[entry]] * WORKERS)
    assert total(said)["reversed"] == WORKERS
    assert left(scratch, batch) == STOCK - 100 - 2 + 2 * WORKERS


def test_draws_and_late_bills_crosswise_wait_for_each_other_and_never_for_ever(scratch: Scratch) -> None:
    """All are held in the order of their keys: held in the order of need, a draw and a bill would each wait."""
    piece, one, two = scratch.python(
        "books = Books(User.objects.get()); piece = books.workpiece(); material = operations.new_commodity()\n"
        "one, two = (books.batch(500, 500 * COIN, commodity=material) for _ in range(2))\n"
        "books.draw((one, 1), (two, 1), to=[(piece, 1)])\n"
        "print(piece.pk, one.pk, two.pk)"
    ).split()
    piece, one, two = int(piece), int(one), int(two)
    said = race(scratch, CROSSWISE, [[one, two, piece, number % 2] for number in range(8)])
    assert total(said) == {"done": 8}
    assert left(scratch, two) == 500 - 1 - 4 * 12
    assert audited(scratch) == "0 differences"


def _set_up(scratch: Scratch) -> list[int]:
    return [int(word) for word in scratch.python(SETUP).split()]


def _drawn(scratch: Scratch, batch: int, piece: int, amount: int = 2) -> int:
    """Key of an entry by which so much was drawn."""
    draw = (
        "import sys\n"
        "batch, piece, amount = (int(word) for word in sys.argv[1:])\n"
        "batch, piece = fresh(Account(pk=batch)), fresh(Account(pk=piece))\n"
        "print(Books(User.objects.get()).draw((batch, amount), to=[(piece, 1)]).entry_id)"
    )
    return int(scratch.python(draw, batch, piece, amount))
