"""What `serve` does before the doors open: lock, database, static files, demo."""

import contextlib
import hashlib
import json
import os
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command

from studio.bootstrap import try_lock
from studio.people.models import User


class AlreadyServed(Exception):
    """Another run serves these data."""


@contextlib.contextmanager
def sole_server(data: Path) -> Iterator[Path]:
    """Hold these data for one server. Raises `AlreadyServed`; the lock goes with its process, however that
    ends."""
    note = data / "serving.json"
    with open(data / "serve.lock", "a+") as handle:
        if not try_lock(handle):
            raise AlreadyServed(_who_serves(data, note))
        note.unlink(missing_ok=True)
        try:
            yield note
        finally:
            note.unlink(missing_ok=True)


def _who_serves(data: Path, note: Path) -> str:
    words = f"The data in {data} are being served already"
    try:
        known = json.loads(note.read_text())
        words += f", at {known['address']} (process {known['pid']})"
    except (OSError, ValueError, KeyError):
        words += " by a run that is just starting or ending"
    return f"""{words}.
Use that one, or stop it with Ctrl-C where it runs.
For other data beside it, set STUDIO_DATA and --port."""


def note_address(note: Path, address: str) -> None:
    note.write_text(json.dumps({"address": address, "pid": os.getpid()}))


def prepare() -> None:
    """Bring the database up to date, look at what everything rests on, and gather the static files."""
    call_command("migrate", interactive=False, verbosity=0)
    call_command("check", databases=["default"], verbosity=0)
    collect_static()


def collect_static() -> None:
    """Gather the static files, unless those gathered last time still are the ones there are."""
    stamp = Path(settings.STATIC_ROOT) / ".gathered"
    mark = _static_fingerprint()
    if stamp.exists() and stamp.read_text() == mark:
        return
    call_command("collectstatic", interactive=False, clear=True, verbosity=0)
    stamp.write_text(mark)


def _static_fingerprint() -> str:
    lines = [str(settings.STORAGES["staticfiles"])]
    for finder in get_finders():
        for path, storage in finder.list([]):
            lines.append(f"{path} {storage.size(path)} {storage.get_modified_time(path).timestamp()}")
    return hashlib.sha256("\n".join(sorted(lines)).encode()).hexdigest()


def empty() -> bool:
    """Whether nobody has been entered yet."""
    return not User.objects.exists()


def build_demo_if_none() -> None:
    """Build the demo studio into these data, unless somebody lives there already."""
    if empty():
        call_command("demo")


def owner() -> User | None:
    """The first owner who can sign in."""
    return User.objects.owners().order_by("pk").first()
