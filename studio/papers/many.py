"""Many cards or tags at once: the worker prints them while the screen shows how far it is."""

from typing import Any

from django.utils import timezone

from studio.fields import formats
from studio.jobs.operations import Outcome
from studio.jobs.progress import Progress
from studio.papers.from_pieces import PAPERS, print_pieces
from studio.people import settings as answers

KIND = "print_pieces"


def print_many(args: dict[str, Any], progress: Progress) -> Outcome:
    """Print the pieces of `args` (pieces, what, paper, price) into one file. Stops between two cards when asked."""
    with answers.remembered(), formats.use(answers.formats()):
        printed = print_pieces(
            args["pieces"],
            what=args["what"],
            paper=args["paper"],
            price=args["price"],
            on=answers.local_date(timezone.now()),
            tick=progress.tick,
        )
    path = progress.file(".pdf")
    path.write_bytes(printed.pdf)
    path.chmod(0o600)
    result = {
        "pages": printed.pages,
        "what": PAPERS[args["what"]],
        "missing": printed.missing_sentence,
        "shortened": list(printed.elided),
    }
    return Outcome(result=result, file=path, message=printed.missing_sentence)
