"""Tidying up, now and then, by the worker: what forms begun and left have kept."""

import logging
import threading
from collections.abc import Callable
from datetime import datetime
from importlib import import_module

from django.db import connection
from django.utils import timezone

from studio.jobs import registry

logger = logging.getLogger("studio.jobs")

EVERY_S = 6 * 3600


def sweep_all(*, now: datetime) -> None:
    """Will call every sweep that was registered. One that breaks is logged and keeps no other from its turn."""
    for name, path in registry.sweeps().items():
        module, _, function = path.partition(":")
        try:
            sweep: Callable[..., object] = getattr(import_module(module), function)
            sweep(now=now)
        except Exception:
            logger.exception("Tidying up %s broke; it is tried again in six hours", name)


def keep_sweeping(stop: threading.Event) -> threading.Thread:
    """Will sweep every six hours, beside the work, until `stop` is set."""

    def go_on() -> None:
        while not stop.wait(EVERY_S):
            try:
                sweep_all(now=timezone.now())
            finally:
                connection.close()

    thread = threading.Thread(target=go_on, daemon=True)
    thread.start()
    return thread
