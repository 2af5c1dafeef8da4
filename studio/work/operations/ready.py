"""Whether wood may be cast: asked once for a whole pour, before anything is drawn."""

from collections.abc import Sequence
from datetime import datetime

from studio.work.errors import PourTrouble
from studio.work.models import Workpiece
from studio.work.queries.cures import recoat_questions
from studio.work.queries.ready import not_ready


def refuse_unready(blanks: Sequence[Workpiece], *, at: datetime, sure: bool = False) -> None:
    """Will refuse wood that is wet, still losing, or has lain out past the studio's limit, unless words on its page
    went past that in this spell. Wood of which nothing is known is asked about unless `sure`, and so is a casting
    that more resin doesn't bond to by itself, not yet or no longer.

    Raises PourTrouble. Ten queries at most, however many blanks.
    """
    found = not_ready(blanks, at)
    stopped = [one.words for one in found if one.refused]
    if stopped:
        raise PourTrouble(" ".join(stopped), field="fills", code="not_dry")
    asked = [one.words for one in found]
    asked += [f"{words} If that is done, or as you want it, say so." for words in recoat_questions(blanks, at)]
    if asked and not sure:
        raise PourTrouble(" ".join(asked), field="fills", code="sure")
