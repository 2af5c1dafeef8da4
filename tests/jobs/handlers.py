"""Work for the tests of the worker to do."""

import time
from typing import Any

from studio.jobs.errors import JobEnded
from studio.jobs.operations import Outcome
from studio.jobs.progress import Progress


def count(args: dict[str, Any], progress: Progress) -> Outcome:
    for done in range(args["to"]):
        progress.tick(done, args["to"], f"at {done}")
    return Outcome(result={"counted": args["to"]}, message="Counted.")


def write(args: dict[str, Any], progress: Progress) -> Outcome:
    path = progress.file(".txt")
    path.write_text(args["text"])
    return Outcome(file=path)


def write_elsewhere(args: dict[str, Any], progress: Progress) -> Outcome:
    path = progress.file(".txt").parent.parent / "elsewhere.txt"
    path.write_text("x")
    return Outcome(file=path)


def break_down(args: dict[str, Any], progress: Progress) -> Outcome:
    raise ZeroDivisionError("secret detail")


def refuse(args: dict[str, Any], progress: Progress) -> Outcome:
    raise JobEnded("The sheet has no pieces on it. Choose some first.")


def bring_back_nonsense(args: dict[str, Any], progress: Progress) -> Outcome:
    return Outcome(result=float("nan"))


def linger(args: dict[str, Any], progress: Progress) -> Outcome:
    for done in range(1000):
        progress.tick(done, 1000)
        time.sleep(0.05)
    return Outcome()
