"""A studio of its own for a test that needs several processes, or a database it may really break."""

import shutil
import subprocess
import sys
import textwrap
from dataclasses import dataclass
from pathlib import Path

from tests import houses

PRELUDE = """
import django
django.setup()
from studio.ledger import audit, operations, triggers
from studio.ledger.accounts import Account, Component, Kind, pool
from studio.ledger.journal import BooksClosed, Entry, Line
from tests.ledger.books import COIN, MONEY, NOW, Books, day, fresh
from studio.people.models import User
"""


@dataclass(frozen=True)
class Scratch:
    data: Path
    database: str = ""

    @property
    def env(self) -> dict[str, str]:
        return houses.environment(
            self.data,
            self.database,
            DJANGO_SETTINGS_MODULE="studio.config.settings",
            PYTHONPATH=str(houses.ROOT),
        )

    @property
    def file(self) -> Path:
        return self.data / "studio.sqlite3"

    def manage(self, *args: str) -> subprocess.CompletedProcess[str]:
        return houses.manage(*args, env=self.env)

    def start(self, code: str, *args: object) -> "subprocess.Popen[str]":
        """Another process at work on these data; `sys.argv[1:]` are the arguments."""
        script = PRELUDE + textwrap.dedent(code)
        return subprocess.Popen(
            [sys.executable, "-c", script, *map(str, args)],
            env=self.env, cwd=houses.ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
            text=True,
        )  # fmt: skip

    def python(self, code: str, *args: object) -> str:
        """Run to the end and return what it printed."""
        process = self.start(code, *args)
        out, err = process.communicate(timeout=240)
        assert process.returncode == 0, err
        return out.strip()

    def copy(self, data: Path) -> "Scratch":
        houses.copy_data(self.data, data)
        return Scratch(data, houses.new_database(self.database) if self.database else "")

    def remove(self) -> None:
        houses.drop_database(self.database)
        shutil.rmtree(self.data, ignore_errors=True)
