"""The bench measures what it says, on data of its own, and what it multiplies still adds up."""

import os
import re
from pathlib import Path

import pytest

from studio.config.bench.told import Figure, seconds
from tests import houses

pytestmark = pytest.mark.skipif(bool(houses.POSTGRES), reason="a studio is told again and again on SQLite only")
FIGURE = r"([\d.,]+) (?:ms|s)"


def test_a_figure_stands_beside_its_bare_counterpart() -> None:
    line = Figure("the round, /", seconds(0.0421), seconds(1.5), "14 queries").line()
    assert line.split() == ["the", "round,", "/", "42.1", "ms", "1.50", "s", "14", "queries"]


def test_a_folder_without_a_studio_is_refused(tmp_path: Path) -> None:
    done = houses.manage("bench", "--quick", "--from", str(tmp_path), env=houses.environment(tmp_path / "own"))
    assert done.returncode == 1
    assert "There is no studio on SQLite in" in done.stderr


def test_a_quick_run_prints_every_figure_and_leaves_nothing_behind(demo_template: Path, tmp_path: Path) -> None:
    env = houses.environment(tmp_path / "own", TMPDIR=str(tmp_path))
    before = (demo_template / "studio.sqlite3").read_bytes()
    done = houses.manage("bench", "--quick", "--from", str(demo_template), env=env, timeout=600)
    assert done.returncode == 0, done.stderr
    told = done.stdout
    # pages, costs and cards: ours and the bare one, both above nothing
    pages = ("the round", "the bench", "the pieces", "one piece", "the books")
    workshop = ("the plan of a pour", "a weight is noted", "the curve of 200 weights")
    for what in (*pages, *workshop, "what everything cost", "24 cards"):
        found = re.search(rf"^  {what}.*?  +{FIGURE} +{FIGURE}", told, re.M)
        assert found, told
        assert all(float(figure.replace(",", "")) > 0 for figure in found.groups())
    assert re.search(r"posts per second, sqlite +[1-9]\d* +[1-9]\d*", told), told
    assert len(re.findall(r"holds +[1-9]\d* MiB +[1-9]\d* MiB", told)) == 2, told
    # the second telling of the demo is a history as whole as the first
    assert len(re.findall(r"The books of these: 0 differences in \d+ entries", told)) == 2, told
    pieces = re.search(r"^([\d,]+) pieces, [\d,]+ workpieces", told, re.M)
    assert pieces and int(pieces[1].replace(",", "")) >= 150
    # nothing is left, and the studio it started from is as it was
    assert [name for name in os.listdir(tmp_path) if name.startswith("bench-")] == []
    assert (demo_template / "studio.sqlite3").read_bytes() == before


def test_a_cost_that_differs_from_the_statement_by_hand_stops_the_bench(monkeypatch: pytest.MonkeyPatch, db) -> None:
    from studio.config.bench import costs
    from studio.ledger.accounts import Component
    from studio.ledger.queries import Cost

    monkeypatch.setattr(costs, "costs_of", lambda: {1: Cost({Component.WOOD: 1})})
    with pytest.raises(AssertionError, match="differ"):
        costs.figures(times=1)
