"""The diaries of the demo's machines and its lathe cards, as they were built for this run."""

import json
from pathlib import Path
from typing import Any

import pytest

from tests import houses

FACTS = """
import json
from collections import Counter
from django.db.models import Max
from studio.equipment import upkeep
from studio.equipment.models import Machine, UpkeepDone
from studio.ledger.models import Entry
from studio.work.models import Mount, Workpiece

last = Entry.objects.aggregate(last=Max("effective_at"))["last"]
rows = upkeep.upkeep_rows(last)
print(json.dumps({
    "due": [[row.upkeep.machine.name, row.upkeep.what] for row in rows if row.due.now],
    "asked of": sorted({row.upkeep.machine.kind for row in rows}),
    "own figures": sum(not row.usual for row in rows),
    "never done": [row.upkeep.what for row in rows if row.last is None],
    "with words": UpkeepDone.objects.exclude(words="").count(),
    "plates": sorted(Machine.objects.of_kind("lathe").values_list("highest_rpm", flat=True)),
    "held": dict(Counter(Mount.objects.values_list("how", flat=True))),
    "over": Mount.objects.filter(how="jam", balance="true").count(),
    "kept": Mount.objects.filter(kept=True).count(),
    "on the bench": Workpiece.objects.on_the_bench().filter(mounts__isnull=False).count(),
}))
"""


@pytest.fixture(scope="module")
def facts(demo_template: Path) -> dict[str, Any]:
    env = houses.environment(demo_template, houses.database_of(demo_template))
    done = houses.manage("shell", "--verbosity", "0", "-c", FACTS, env=env)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def test_one_thing_is_due_and_it_is_the_large_pots_valve(facts: dict[str, Any]) -> None:
    assert facts["due"] == [["Large pot", "Try the relief valve"]]


def test_every_kind_of_machine_that_wants_something_is_asked(facts: dict[str, Any]) -> None:
    assert facts["asked of"] == ["compressor", "lathe", "oven", "pressure_pot", "vacuum_chamber"]
    assert facts["own figures"] == 2
    assert facts["never done"] == []
    assert facts["with words"] > 50


def test_pieces_were_held_in_several_ways_and_some_lie_there_with_their_card(facts: dict[str, Any]) -> None:
    assert facts["plates"] == [2400, 3600]
    assert len(facts["held"]) >= 4 and facts["over"] >= 10 and facts["kept"] >= 3
    assert facts["on the bench"] >= 2
