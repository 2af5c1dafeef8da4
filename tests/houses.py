"""The real `serve`, run by tests on data of their own."""

import contextlib
import os
import queue
import re
import secrets
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

ROOT = Path(__file__).resolve().parent.parent
MANAGE = str(ROOT / "manage.py")
READY = "Ctrl-C closes it."
POSTGRES = os.environ.get("STUDIO_DATABASE", "")


def environment(data: Path, database: str = "", **more: str) -> dict[str, str]:
    """The environment of a command that works on `data`, with nothing of the test run's own settings in
    it."""
    ours = {"STUDIO_DATA", "STUDIO_DATABASE", "STUDIO_HTTPS", "DJANGO_SETTINGS_MODULE", "DJANGO_ALLOW_ASYNC_UNSAFE"}
    kept = {key: value for key, value in os.environ.items() if key not in ours}
    kept |= {"STUDIO_DATA": str(data), "PYTHONUNBUFFERED": "1"}
    if database:
        kept["STUDIO_DATABASE"] = database
    return kept | more


def manage(*args: str, env: dict[str, str], timeout: float = 300) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, MANAGE, *args], env=env, cwd=ROOT, capture_output=True, text=True, timeout=timeout
    )


@dataclass
class House:
    """A served studio: where it is, and how to get in."""

    data: Path
    env: dict[str, str]
    process: subprocess.Popen[str]
    lines: list[str] = field(default_factory=list)

    @property
    def address(self) -> str:
        """Scheme, host and port; no slash at the end."""
        found = [line.strip() for line in self.lines if re.fullmatch(r"http://127\.0\.0\.1:\d+/", line.strip())]
        assert found, "".join(self.lines)
        return found[-1].rstrip("/")

    @property
    def link(self) -> str:
        """The one-time sign-in link `serve --demo` printed. It works once; `let_in` makes more."""
        found = [line.strip() for line in self.lines if "/come-in/" in line]
        assert found, "".join(self.lines)
        return found[0]

    def let_in(self, name: str | None = None) -> str:
        """A fresh one-time link for a person by sign-in name; the first owner unless told."""
        done = self.manage("let_in", *([name] if name else []))
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()

    def manage(self, *args: str) -> subprocess.CompletedProcess[str]:
        """Run a management command on these data."""
        return manage(*args, env=self.env)

    def stop(self, how: int = signal.SIGTERM) -> int:
        if self.process.poll() is None:
            self.process.send_signal(how)
        return self.process.wait(30)


def open_house(data: Path, *args: str, env: dict[str, str] | None = None, wait_s: float = 400) -> House:
    """Start `serve` on a free port and return once it says that it is open."""
    env = env or environment(data)
    process = subprocess.Popen(
        [sys.executable, MANAGE, "serve", "--port", "0", *args],
        env=env, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip
    house = House(data, env, process)
    heard: queue.Queue[str | None] = queue.Queue()

    def listen() -> None:
        assert process.stdout
        for line in process.stdout:
            house.lines.append(line)
            heard.put(line)
        heard.put(None)

    threading.Thread(target=listen, daemon=True).start()
    deadline = time.monotonic() + wait_s
    while True:
        try:
            line = heard.get(timeout=max(0.1, deadline - time.monotonic()))
        except queue.Empty:
            process.kill()
            raise AssertionError("serve did not open in time:\n" + "".join(house.lines)) from None
        if line is None:
            raise AssertionError("serve ended before it was open:\n" + "".join(house.lines))
        if line.strip() == READY:
            return house


@contextlib.contextmanager
def served(data: Path, *args: str, database: str = "") -> Iterator[House]:
    house = open_house(data, *args, env=environment(data, database))
    try:
        yield house
    finally:
        house.stop()


def copy_data(template: Path, data: Path) -> None:
    """Copy a studio's data, but not its locks."""
    ignored = shutil.ignore_patterns("*.lock", "serving.json", "database")
    shutil.copytree(template, data, ignore=ignored, dirs_exist_ok=True)


def database_of(template: Path) -> str:
    """The address of the PostgreSQL database that goes with a template; "" on SQLite."""
    return (template / "database").read_text()


# --- a database of its own on PostgreSQL ----------------------------------------------------------


def _named(name: str) -> str:
    return urlunsplit(urlsplit(POSTGRES)._replace(path="/" + name))


def new_database(template: str = "") -> str:
    """Make a database (a copy of `template`, an address) and return its address; "" where the run is on
    SQLite."""
    if not POSTGRES:
        return ""
    import psycopg
    from psycopg import sql

    name = f"gramwood_{secrets.token_hex(6)}"
    statement = sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name))
    if template:
        statement += sql.SQL(" TEMPLATE {}").format(sql.Identifier(urlsplit(template).path.lstrip("/")))
    with psycopg.connect(POSTGRES, autocommit=True) as connection:
        connection.execute(statement)
    return _named(name)


def drop_database(address: str) -> None:
    if not address:
        return
    import psycopg
    from psycopg import sql

    name = urlsplit(address).path.lstrip("/")
    with psycopg.connect(POSTGRES, autocommit=True) as connection:
        connection.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(name)))
