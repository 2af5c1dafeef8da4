"""How many come through each step, as this studio has measured it, and what that makes over all of them."""

from dataclasses import dataclass
from fractions import Fraction

from django.db.models import Count, Exists, OuterRef

from studio.craft.rounding import whole
from studio.craft.yields import rolled, wilson
from studio.work.models import Loss, Step, StepCode, StepState

WHOLE_PPM = 1_000_000
# "9 times in 10": the range such a count would lie in that often.
SURE = 0.9


@dataclass(frozen=True)
class StepYield:
    """Of so many tried at a step, so many came through; 9 times in 10 the true share lies between the two."""

    code: str
    words: str
    good: int
    tried: int
    low_ppm: int
    high_ppm: int

    @property
    def lost(self) -> int:
        return self.tried - self.good

    @property
    def share_ppm(self) -> int:
        return whole(Fraction(self.good * WHOLE_PPM, self.tried))


@dataclass(frozen=True)
class Yields:
    """Every step anything was tried at, in the order of the bench, and the share that comes through them all."""

    steps: tuple[StepYield, ...]
    rolled_ppm: int

    @property
    def anything(self) -> bool:
        return bool(self.steps)


def measured() -> Yields:
    """Yield of each step from what was done and what was lost. Two queries.

    A workpiece counts once for a step, however often it was repeated; one lost at a step counts as lost there
    though the step had been ticked done (a void found afterwards). Fire, flood, fall and theft are no fault of
    a step and are left out.
    """
    standing = Loss.objects.filter(taken_back_at__isnull=True)
    lost = dict(
        standing.filter(unusual=False).exclude(step="").values_list("step").annotate(n=Count("pk")).order_by()
    )
    lost_here = standing.filter(workpiece=OuterRef("workpiece"), step=OuterRef("code"))
    good = dict(
        Step.objects.filter(state=StepState.DONE)
        .filter(~Exists(lost_here))
        .values_list("code")
        .annotate(n=Count("workpiece", distinct=True))
        .order_by()
    )
    rows = []
    for code in StepCode:
        through, tried = good.get(code, 0), good.get(code, 0) + lost.get(code, 0)
        if not tried:
            continue
        low, high = wilson(through, tried, SURE)
        rows.append(StepYield(code.value, str(code.label), through, tried, _ppm(low), _ppm(high)))
    shares = rolled([Fraction(row.good, row.tried) for row in rows])
    return Yields(tuple(rows), whole(Fraction(shares) * WHOLE_PPM))


def _ppm(share: float) -> int:
    return whole(Fraction(share) * WHOLE_PPM)
