"""`manage.py worker`: does the long work. `serve` starts it and keeps it going; one per data folder."""

import os
import signal
import sys
import threading
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from studio.bootstrap import try_lock
from studio.jobs.operations import mark_left_behind
from studio.jobs.sweeping import keep_sweeping, sweep_all


class Command(BaseCommand):
    help = "Does the long work (printing, imports, backups). `serve` starts it by itself."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--with-parent", action="store_true", help="end when the standard input is closed"
        )
        parser.add_argument("--once", action="store_true", help="do what waits, then end")

    def handle(self, *args: Any, **options: Any) -> None:
        with open(settings.DATA_DIR / "worker.lock", "a+") as lock:
            if not try_lock(lock):
                raise CommandError("A worker is already at work on these data. One is enough.")
            # Holding the lock, whatever is still called running belongs to a worker that died.
            mark_left_behind()
            DBTaskResult.objects.running().update(status="FAILED")
            if options["with_parent"]:
                threading.Thread(target=_end_with_parent, daemon=True).start()
            sweep_all(now=timezone.now())
            if not options["once"]:
                keep_sweeping(threading.Event())
            call_command(
                "db_worker",
                interval=0.5,
                startup_delay=False,
                reload=False,
                batch=options["once"],
                verbosity=0,
            )


def _end_with_parent() -> None:
    """Read until whoever started this lets go of the pipe, which also happens when it is killed outright."""
    while sys.stdin.buffer.read(1):
        pass
    os.kill(os.getpid(), signal.SIGTERM)
