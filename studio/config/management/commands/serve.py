"""`manage.py serve`: the studio in the browser, from nothing, in one command."""

import errno
import os
import signal
import socket
from argparse import ArgumentTypeError
from pathlib import Path
from types import FrameType
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from studio.config import house, network, signin
from studio.config.worker import Worker

THREADS = 8


class Command(BaseCommand):
    help = "Opens the studio in the browser: brings the data up to date, starts the web server and the worker."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--demo", action="store_true", help="a living studio with invented data, apart from yours"
        )
        parser.add_argument("--lan", action="store_true", help="let phones and machines on the same network in")
        parser.add_argument("--port", type=_port, default=8000, help="8000 unless told; 0 takes any free one")

    def handle(self, *args: Any, demo: bool, lan: bool, port: int, **options: Any) -> None:
        data = Path(settings.DATA_DIR)
        signal.signal(signal.SIGTERM, _as_ctrl_c)
        try:
            with house.sole_server(data) as note:
                self._open(data, note, demo, lan, port)
        except house.AlreadyServed as reason:
            raise CommandError(str(reason)) from None
        except KeyboardInterrupt:
            self._say("Stopped before it was open.")

    def _open(self, data: Path, note: Path, demo: bool, lan: bool, port: int) -> None:
        # Before anything slow: a port that is taken should be told at once.
        door = _door(lan, port)
        self._say(f"The data are in {data}.")
        house.prepare()
        if demo:
            if house.empty():
                self._say("Building the demo studio; this takes a minute or two, once.")
            house.build_demo_if_none()
        server = self._server(door, lan)
        worker = Worker(data)
        try:
            worker.start()
            self._announce(note, server.effective_port, demo, lan)
            server.run()
        finally:
            # A second Ctrl-C must not leave the worker behind.
            signal.signal(signal.SIGTERM, signal.SIG_IGN)
            signal.signal(signal.SIGINT, signal.SIG_IGN)
            server.close()
            server.task_dispatcher.shutdown()
            worker.stop()
            self._say("Closed.")

    def _server(self, door: socket.socket, lan: bool) -> Any:
        import waitress

        from studio.config.wsgi import application

        if lan:
            settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, *network.own_names()]
        trusted: dict[str, Any] = {}
        if settings.TRUSTED_PROXY:
            trusted = {
                "trusted_proxy": settings.TRUSTED_PROXY,
                "trusted_proxy_headers": "x-forwarded-for x-forwarded-proto",
            }
        return waitress.create_server(
            application,
            sockets=[door],
            threads=THREADS,
            ident="",
            max_request_body_size=settings.MAX_REQUEST_BYTES,
            clear_untrusted_proxy_headers=True,
            **trusted,
        )

    def _announce(self, note: Path, port: int, demo: bool, lan: bool) -> None:
        address = f"http://127.0.0.1:{port}"
        house.note_address(note, address)
        if lan:
            for name in network.own_names():
                self._say(f"On this network: http://{name}:{port}/")
        person = house.owner() if demo else None
        if person is not None:
            self._say(f"Open this once, within the hour, to come in as {person}:")
            self._say(signin.link_for(person, address))
        elif house.empty():
            self._say("Nobody works here yet. Open this and answer four questions:")
        self._say(f"{address}/")
        self._say("Ctrl-C closes it.")

    def _say(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()


def _door(lan: bool, port: int) -> socket.socket:
    """A socket bound to the port, on this machine alone or on all its addresses."""
    door = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if os.name != "nt":  # on Windows this would let two servers share one port
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        door.bind(("0.0.0.0" if lan else "127.0.0.1", port))  # noqa: S104
    except OSError as problem:
        door.close()
        if problem.errno in (errno.EADDRINUSE, errno.EACCES):
            raise CommandError(
                f"Port {port} is taken by another program, or not allowed. Try --port {port + 1}."
            ) from None
        raise
    return door


def _port(text: str) -> int:
    if not text.isascii() or not text.isdigit() or int(text) > 65535:
        raise ArgumentTypeError("a port is a whole number from 0 to 65535")
    return int(text)


def _as_ctrl_c(number: int, frame: FrameType | None) -> None:
    raise KeyboardInterrupt
