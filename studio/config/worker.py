"""The worker as a child process: started, kept going, and ended with the server."""

import os
import subprocess
import sys
import threading
import time
from pathlib import Path

MANAGE = Path(__file__).resolve().parent.parent.parent / "manage.py"
GRACE_S = 10


class Worker:
    """Keeps one `manage.py worker` going. Its standard input is a pipe held by this process, so that even a
    server
    that is killed outright takes its worker along."""

    def __init__(self, data: Path) -> None:
        self._environment = {**os.environ, "STUDIO_DATA": str(data)}
        self._stopping = threading.Event()
        self._process: subprocess.Popen[bytes] | None = None
        self._thread = threading.Thread(target=self._keep_going, daemon=True)

    @property
    def pid(self) -> int | None:
        return self._process.pid if self._process else None

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        """Let the worker finish what it can in ten seconds, then end it. What it leaves is found at the next
        start."""
        self._stopping.set()
        self._thread.join()
        process = self._process
        if process is None or process.poll() is not None:
            return
        if process.stdin:
            process.stdin.close()
        try:
            process.wait(GRACE_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()

    def _keep_going(self) -> None:
        wait = 0.5
        while not self._stopping.is_set():
            began = time.monotonic()
            self._process = subprocess.Popen(
                [sys.executable, str(MANAGE), "worker", "--with-parent"],
                stdin=subprocess.PIPE,
                env=self._environment,
                # Ctrl-C in the terminal is for the server, which then ends the worker in its own time.
                start_new_session=True,
            )
            while not self._stopping.wait(0.2):
                if self._process.poll() is not None:
                    break
            else:
                return
            # One that dies at once is tried again ever more slowly, one that ran a while at once.
            wait = 0.5 if time.monotonic() - began > 30 else min(30.0, wait * 2)
            sys.stderr.write("The worker for long jobs ended by itself; it is started again.\n")
            self._stopping.wait(wait)
