"""`serve` as it is really run: a process, a port, a worker."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests import houses
from tests.houses import House

pytestmark = pytest.mark.skipif(os.name == "nt", reason="signals are sent as other systems know them")
JOB = """
import sys, django
django.setup()
from django.core.management import call_command
from studio.jobs import operations, registry
registry.register("linger", "linger", "tests.jobs.handlers:linger")
registry.register("count", "count", "tests.jobs.handlers:count")
if sys.argv[1] == "start":
    print(operations.start(kind=sys.argv[2], args={"to": 3}, by=None).pk)
else:
    call_command("worker", once=True)
"""
STATE = """
import sys, django
django.setup()
from studio.jobs.models import Job
job = Job.objects.get(pk=int(sys.argv[1]))
print(job.state, job.percent, job.message)
"""


def fetch(address: str) -> tuple[int, dict[str, str], bytes]:
    class Stay(urllib.request.HTTPRedirectHandler):
        def redirect_request(self, *args: object, **kwargs: object) -> None:
            return None

    try:
        answer = urllib.request.build_opener(Stay).open(address, timeout=30)
    except urllib.error.HTTPError as error:
        answer = error
    with answer:
        return answer.status, dict(answer.headers), answer.read()


def soon(true: Callable[[], object], wait_s: float = 60) -> object:
    deadline = time.monotonic() + wait_s
    while time.monotonic() < deadline:
        value = true()
        if value:
            return value
        time.sleep(0.1)
    raise AssertionError("waited in vain")


def children_of(pid: int) -> list[int]:
    listed = subprocess.run(["ps", "-o", "pid=", "--ppid", str(pid)], capture_output=True, text=True)
    return [int(each) for each in listed.stdout.split()]


def alive(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return False
    return state != "Z"


def python(code: str, *args: str, env: dict[str, str], **more: object) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", code, *args],
        cwd=houses.ROOT,
        env={**env, "DJANGO_SETTINGS_MODULE": "studio.config.settings"},
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def said(code: str, *args: str, env: dict[str, str]) -> str:
    out, err = python(code, *args, env=env).communicate(timeout=120)
    assert out, err
    return out.strip()


@pytest.fixture(scope="module")
def house(open_studio: Callable[..., House]) -> Iterator[House]:
    house = open_studio(demo=False)
    yield house
    house.stop()


@pytest.fixture
def own_data(empty_template: Path, tmp_path: Path) -> Iterator[dict[str, str]]:
    """The environment of commands on a copy of an empty studio's data, which nobody serves."""
    houses.copy_data(empty_template, tmp_path)
    database = houses.new_database(houses.database_of(empty_template))
    yield houses.environment(tmp_path, database)
    houses.drop_database(database)


def test_an_empty_studio_says_what_to_open_first(house: House) -> None:
    assert any("answer four questions" in line for line in house.lines)
    status, headers, _ = fetch(house.address + "/no/such/page/")
    assert status == 404
    assert headers["Content-Security-Policy"].startswith("default-src 'none'")
    assert "Server" not in headers


def test_it_is_not_reachable_from_the_network_unless_told(house: House) -> None:
    port = int(house.address.rsplit(":", 1)[1])
    with socket.socket() as probe:
        probe.settimeout(5)
        assert probe.connect_ex(("127.0.0.1", port)) == 0
    with socket.socket() as probe:
        # All of 127/8 is this machine; only a server bound to every address answers on another of them.
        probe.settimeout(5)
        assert probe.connect_ex(("127.0.0.2", port)) != 0


def test_a_second_run_on_the_same_data_is_refused_and_says_where_the_first_is(house: House) -> None:
    second = houses.manage("serve", "--port", "0", env=house.env)
    assert second.returncode == 1
    assert house.address in second.stderr and "STUDIO_DATA" in second.stderr
    assert fetch(house.address + "/no/such/page/")[0] == 404


def test_a_second_worker_on_the_same_data_is_refused(house: House) -> None:
    second = houses.manage("worker", "--once", env=house.env)
    assert second.returncode == 1
    assert "One is enough" in second.stderr


def test_a_worker_that_died_is_started_again(house: House) -> None:
    first = soon(lambda: children_of(house.process.pid))
    assert isinstance(first, list)
    os.kill(first[0], signal.SIGKILL)
    soon(lambda: [pid for pid in children_of(house.process.pid) if pid not in first and alive(pid)])


def test_a_link_is_made_only_for_somebody_who_works_here(house: House) -> None:
    nobody = houses.manage("let_in", "nobody", env=house.env)
    assert nobody.returncode == 1
    assert "Nobody signs in here as “nobody”" in nobody.stderr


def test_a_port_that_is_taken_is_named_with_another_to_try(house: House, tmp_path: Path) -> None:
    port = house.address.rsplit(":", 1)[1]
    env = {**house.env, "STUDIO_DATA": str(tmp_path / "other")}
    other = houses.manage("serve", "--port", port, env=env)
    assert other.returncode == 1
    assert f"Try --port {int(port) + 1}" in other.stderr


def test_a_port_that_is_none_is_refused(house: House) -> None:
    refused = houses.manage("serve", "--port", "12345678", env=house.env)
    assert refused.returncode == 2
    assert "whole number from 0 to 65535" in refused.stderr


def test_the_static_files_are_served_compressed_and_may_be_kept(house: House) -> None:
    manifest = json.loads((house.data / "static" / "staticfiles.json").read_text())
    script = next(to for name, to in manifest["paths"].items() if name.endswith("htmx-2.min.js"))
    status, headers, body = fetch(f"{house.address}/static/{script}")
    assert status == 200 and len(body) > 10_000
    assert "immutable" in headers["Cache-Control"]
    assert headers["Content-Security-Policy"].startswith("default-src 'none'")


def test_closing_ends_server_and_worker_and_the_data_are_free_again(open_studio: Callable[..., House]) -> None:
    house = open_studio(demo=False)
    workers = soon(lambda: children_of(house.process.pid))
    assert isinstance(workers, list)
    assert house.stop(signal.SIGINT) == 0
    soon(lambda: not any(alive(pid) for pid in workers))
    again = houses.open_house(house.data, env=house.env)
    workers = soon(lambda: children_of(again.process.pid))
    assert isinstance(workers, list)
    # Killed outright, the server can end nothing itself: the worker goes because its pipe is gone.
    assert again.stop(signal.SIGKILL) == -signal.SIGKILL
    soon(lambda: not any(alive(pid) for pid in workers))


def test_a_job_whose_worker_was_killed_is_found_and_marked_failed_with_a_sentence(own_data: dict[str, str]) -> None:
    lost = said(JOB, "start", "linger", env=own_data)
    worker = python(JOB, "work", env=own_data)
    soon(lambda: said(STATE, lost, env=own_data).startswith("running"))
    worker.kill()
    worker.communicate()
    assert said(STATE, lost, env=own_data).startswith("running")

    kept = said(JOB, "start", "count", env=own_data)
    worker = python(JOB, "work", env=own_data)
    worker.communicate(timeout=120)
    state = said(STATE, lost, env=own_data)
    assert state.startswith("failed") and "Start it again" in state
    assert said(STATE, kept, env=own_data) == "done 100 Counted."
