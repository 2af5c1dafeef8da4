"""Whether wood may be cast: asked once for a whole pour, before anything is drawn."""

from collections.abc import Sequence
from datetime import datetime

from studio.work.errors import PourTrouble
from studio.work.models import Workpiece
from studio.work.queries.ready import not_ready


def refuse_unready(blanks: Sequence[Workpiece], *, at: datetime, sure: bool = False) -> None:
    """Will refuse wood that is wet, still losing, or has lain out past the studio's limit, unless words on its page
    went past that in this spell. Wood of which nothing is known is asked about unless `sure`.

    Raises PourTrouble. Nine queries at most, however many blanks.
    """
    found = not_ready(blanks, at)
    stopped = [one.words for one in found if one.refused]
    if stopped:
        raise PourTrouble(" ".join(stopped), field="fills", code="not_dry")
    asked = [one.words for one in found]
    if asked and not sure:
        raise PourTrouble(" ".join(asked), field="fills", code="sure")
