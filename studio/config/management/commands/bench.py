"""`manage.py bench`: how quick the studio is here, each figure beside the least that could do the same."""

import argparse
import json
import os
import platform
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from studio.config import house
from studio.config.bench import databases
from studio.config.bench.told import Figure, heading
from studio.config.worker import MANAGE


class Command(BaseCommand):
    help = "Measures pages, costs, posting, printing, start and memory here, on data of its own that it throws away."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--quick", action="store_true", help="a small run, to see that it works")
        parser.add_argument("--from", dest="source", type=Path, help="start from a copy of the studio in this folder")
        for name in ("--part", "--given"):
            parser.add_argument(name, help=argparse.SUPPRESS)

    def handle(self, *args: Any, quick: bool, source: Path | None, part: str | None, **options: Any) -> None:
        if part:
            self.stdout.write(json.dumps(_inside(part, json.loads(options["given"] or "{}"))))
            return
        began = time.monotonic()
        self._say(f"Python {platform.python_version()} on {platform.system()}, {os.cpu_count()} processors.")
        with tempfile.TemporaryDirectory(prefix="bench-") as folder:
            self._run(Path(folder), quick, source)
        self._say(f"\nMeasured in {time.monotonic() - began:,.0f} s.")

    def _run(self, folder: Path, quick: bool, source: Path | None) -> None:
        environment = {key: value for key, value in os.environ.items() if key != "STUDIO_DATABASE"}
        fresh = environment | {"STUDIO_DATA": str(folder / "fresh")}
        if quick and source:
            _copy(source, folder / "fresh")
        _manage(fresh, "migrate", "--verbosity", "0")
        self._posting(folder, fresh, quick)
        studio = environment | {"STUDIO_DATA": str(folder / "studio")}
        if source:
            _copy(source, folder / "studio")
        _manage(studio, "migrate", "--verbosity", "0")
        if not source:
            self._say("\nBuilding the demo studio that is then told again and again …")
            _manage(studio, "demo", "--verbosity", "0")
        for number, pieces in enumerate((150,) if quick else (1_000, 10_000)):
            self._say(heading(_part(studio, "grow", pieces=pieces)["words"]))
            self._tell(_part(studio, "pages", times=3 if quick else 9))
            self._tell(_part(studio, "workshop", times=3 if quick else 9))
            self._tell(_part(studio, "costs", times=3 if quick else 5))
            if number == 0:
                self._say(heading("Printing"))
                self._tell(_part(studio, "cards", count=24 if quick else 500))
                self._say(heading("Opening"))
                self._tell(_part(studio, "opening"))
            self._say(f"  The books of these: {_audit(studio)}.")

    def _posting(self, folder: Path, fresh: dict[str, str], quick: bool) -> None:
        how = {"writers": 4 if quick else 16, "for_s": 1 if quick else 10}
        self._say(heading("Posting"))
        self._tell(_part(fresh, "posts", **how))
        self._say(f"  The books of these: {_audit(fresh)}.")
        if os.environ.get("STUDIO_DATABASE"):
            with databases.of_its_own(os.environ["STUDIO_DATABASE"]) as address:
                other = fresh | {"STUDIO_DATABASE": address, "STUDIO_DATA": str(folder / "other")}
                _manage(other, "migrate", "--verbosity", "0")
                self._tell(_part(other, "posts", **how))
                self._say(f"  The books of these: {_audit(other)}.")

    def _tell(self, found: dict[str, Any]) -> None:
        for figure in found["figures"]:
            self._say(Figure(**figure).line())

    def _say(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()


# --- in the process that measures -----------------------------------------------------------------


def _inside(part: str, given: dict[str, Any]) -> dict[str, Any]:
    """Measure one part on the data this process was given. Each brings in only what it needs itself."""
    from studio.config.bench import cards, costs, grow, opening, pages, posts, workshop

    house.collect_static()
    if part == "grow":
        return {"words": str(grow.grow_to(given["pieces"]))}
    if part == "opening":
        given = {"paths": [url for _, url in pages.screens()]}
    measures: dict[str, Callable[..., list[Figure]]] = {
        "pages": pages.figures,
        "workshop": workshop.figures,
        "costs": costs.figures,
        "posts": posts.figures,
        "cards": cards.figures,
        "opening": opening.figures,
    }
    return {"figures": [figure.plain() for figure in measures[part](**given)]}


# --- other processes ------------------------------------------------------------------------------


def _manage(environment: dict[str, str], *args: str) -> str:
    done = subprocess.run([sys.executable, str(MANAGE), *args], env=environment, capture_output=True, text=True)
    if done.returncode:
        raise CommandError(f"`{' '.join(args)}` did not work:\n{done.stdout}{done.stderr}".rstrip())
    return done.stdout


def _part(environment: dict[str, str], part: str, **given: Any) -> dict[str, Any]:
    return json.loads(_manage(environment, "bench", "--part", part, "--given", json.dumps(given)).splitlines()[-1])


def _audit(environment: dict[str, str]) -> str:
    return _manage(environment, "audit").strip()


def _copy(source: Path, data: Path) -> None:
    if not (source / "studio.sqlite3").exists():
        raise CommandError(f"There is no studio on SQLite in {source}.")
    shutil.copytree(source, data, ignore=shutil.ignore_patterns("*.lock", "serving.json", "jobs"))
