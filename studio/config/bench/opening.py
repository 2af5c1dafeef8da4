"""How long `serve` takes to open and what web server and worker hold, beside a server that says one word."""

import json
import os
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from studio.config.bench.told import Figure, seconds
from studio.config.worker import MANAGE

OPEN = "Ctrl-C closes it."
BARE_WEB = """
import django
from django.conf import settings
settings.configure(ROOT_URLCONF=__name__, SECRET_KEY="bare", ALLOWED_HOSTS=["*"])
django.setup()
import waitress
from django.core.wsgi import get_wsgi_application
from django.http import HttpResponse
from django.urls import path
urlpatterns = [path("", lambda request: HttpResponse("here"))]
server = waitress.create_server(get_wsgi_application(), host="127.0.0.1", port=0)
print(f"http://127.0.0.1:{server.effective_port}/", flush=True)
server.run()
"""
BARE_WORKER = """
import sys, django
from django.conf import settings
settings.configure(INSTALLED_APPS=["django.contrib.contenttypes", "django_tasks", "django_tasks_db"])
django.setup()
import django_tasks_db.models
print("here", flush=True)
sys.stdin.read()
"""


def figures(paths: list[str]) -> list[Figure]:
    """Will open `serve` on these data (their static files are gathered), read these pages, and open the bare ones."""
    with _serve() as (server, address, opened_s):
        told = json.loads((Path(os.environ["STUDIO_DATA"]) / "serving.json").read_text())
        web = int(told["pid"])
        fresh = _holds(web)
        _walk(address, paths)
        worked = _holds(web)
        time.sleep(2)
        worker = max((_holds(pid) for pid in _children(web)), default=0.0)
    once_s = _taken([sys.executable, str(MANAGE), "worker", "--once"])
    with _said([sys.executable, "-c", BARE_WEB]) as (process, bare_address, bare_s):
        _fetch(bare_address)
        bare_web = _holds(process.pid)
    with _said([sys.executable, "-c", BARE_WORKER]) as (process, _, bare_worker_s):
        bare_worker = _holds(process.pid)
    return [
        Figure("serve, until it is open", seconds(opened_s), seconds(bare_s)),
        Figure("worker, from start to nothing to do", seconds(once_s), seconds(bare_worker_s)),
        Figure(
            "web server holds", _size(fresh), _size(bare_web), f"{_size(worked)} once {len(paths)} pages were read"
        ),
        Figure("worker holds", _size(worker), _size(bare_worker)),
    ]


@contextmanager
def _said(command: list[str], until: str = "") -> Iterator[tuple[subprocess.Popen[str], str, float]]:
    """Start a program and wait for its first line, or the line `until`; its process, the line before, the seconds."""
    began = time.perf_counter()
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, stdin=subprocess.PIPE, text=True
    )
    try:
        assert process.stdout
        lines: list[str] = []
        for line in process.stdout:
            lines.append(line.strip())
            if not until or lines[-1] == until:
                break
        assert lines and (not until or lines[-1] == until), "it did not open:\n" + "\n".join(lines)
        yield process, lines[-2 if until else -1], time.perf_counter() - began
    finally:
        process.terminate()
        process.communicate(timeout=60)


@contextmanager
def _serve() -> Iterator[tuple[subprocess.Popen[str], str, float]]:
    with _said([sys.executable, str(MANAGE), "serve", "--port", "0"], OPEN) as found:
        yield found


def _taken(command: list[str]) -> float:
    began = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    return time.perf_counter() - began


def _fetch(address: str, opener: Any = None) -> bytes:
    with (opener or urllib.request.build_opener()).open(address, timeout=60) as answer:
        return answer.read()


def _walk(address: str, paths: list[str]) -> None:
    """Come in by a one-time link and read pages, as a browser would."""
    made = subprocess.run([sys.executable, str(MANAGE), "let_in"], check=True, capture_output=True, text=True)
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
    _fetch(made.stdout.strip(), opener)
    for path in paths:
        _fetch(address.rstrip("/") + path, opener)


def _children(pid: int) -> list[int]:
    return [int(child) for child, parent in _processes("pid=,ppid=") if int(parent) == pid]


def _holds(pid: int) -> float:
    """Resident memory in MiB; 0 where this system has no `ps`."""
    return next((int(size) / 1024 for found, size in _processes("pid=,rss=") if int(found) == pid), 0.0)


def _processes(columns: str) -> list[list[str]]:
    try:
        listed = subprocess.run(["ps", "-A", "-o", columns], check=True, capture_output=True, text=True)
    except (OSError, subprocess.CalledProcessError):
        return []
    return [line.split() for line in listed.stdout.splitlines() if len(line.split()) == 2]


def _size(mib: float) -> str:
    return f"{mib:,.0f} MiB" if mib else "not known"
