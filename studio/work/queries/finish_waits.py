"""What the finish bench waits for: the next line of each finish, and before one goes home the oily rags."""

from collections.abc import Iterable
from datetime import datetime

from studio.craft.waits import Kind, Wait
from studio.people import settings as answers
from studio.work.models import FinishLine, FinishRun, Workpiece
from studio.work.operations.finish import where_it_stands
from studio.work.queries.bench_waits import EACH, BenchWait, Tagged
from studio.work.queries.finishing import rags_lie_about, under_finish


def on_a_finish(now: datetime, only: int | None = None) -> Iterable[Wait]:
    """Three queries: those alike that can be gone on with (one finish, one line) are one wait, each other its own."""
    ready: dict[int, list[tuple[FinishRun, datetime]]] = {}
    lines_of: dict[int, FinishLine] = {}
    for run in under_finish(only):
        lines, stands = where_it_stands(run)
        if stands.following is None:
            continue
        line = lines[stands.following]
        if stands.at <= now and stands.by is None:
            lines_of[line.pk] = line
            ready.setdefault(line.pk, []).append((run, stands.at))
            continue
        early = stands.at > now
        kind: Kind = "not before" if early else "by"
        note = _by(stands.by) if early and stands.by is not None else ""
        at = stands.at if early else stands.by
        yield _wait(line, [run], kind, at, ("work.finish", run.pk), note)
    for key, rows in ready.items():
        about = ("work.finish", rows[0][0].pk) if len(rows) == 1 else ("work.finish_line", key)
        yield _wait(lines_of[key], [run for run, _ in rows], "since", min(at for _, at in rows), about)


def _wait(
    line: FinishLine, runs: list[FinishRun], kind: Kind, at: datetime | None, about: tuple[str, int], note: str = ""
) -> Wait:
    pieces: list[Workpiece] = [run.workpiece for run in runs]
    tags = tuple(Tagged(piece.pk, piece.number) for piece in pieces[:EACH])
    words = line.words[:1].lower() + line.words[1:]
    return BenchWait(
        "finish bench", words, tags[0].number, kind, at, str(runs[0].schedule), note, about,
        tags=tags, more=len(pieces) - len(tags),
    )  # fmt: skip


def _by(at: datetime) -> str:
    there = at.astimezone(answers.zone())
    return f"and by {there.day} {there:%B, %H:%M}"


def rags(now: datetime) -> Iterable[Wait]:
    """Two queries: an oily coat went on, and nobody has said since where its rags went."""
    last = rags_lie_about(now)
    if last is not None:
        today = answers.local_date(last.at) == answers.local_date(now)
        what = f"{'today’s' if today else 'the'} oily rags into a closed metal tin"
        reason = "for in a heap they heat up by themselves and catch fire"
        yield Wait("before you go", "put", what, "since", last.at, reason, about=("work.rags", last.pk))
