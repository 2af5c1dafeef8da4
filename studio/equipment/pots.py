"""What a pressure pot may do. The nameplate decides, and nobody overrules it."""

from dataclasses import dataclass
from datetime import date, timedelta

from studio.craft.pressure import bubble_volume_ratio, lid_force_n, pot_verdict
from studio.equipment.errors import LoadRefused, PotRefused
from studio.equipment.models import Known, Machine
from studio.fields.writing import show
from studio.people import settings as studio_settings

# What makers tell each other for casting resin: 40 to 60 psi on the gauge for small work, 80 for large. *Common
# practice, no source.*
USUAL_LOW_PA, USUAL_HIGH_PA, USUAL_LARGE_PA = 275_790, 413_685, 551_581
# So long after its inspection fell due a pot is still used, with a reason in words.
GRACE = timedelta(days=31)
USUAL_SOURCE = "common practice, no source"
PPM = 1_000_000
WARN_PPM = 900_000
# What the craft says that is only warned about; every other reason, new ones too, refuses.
WARNS = frozenset({"close_to_the_limit", "valve_above_the_certificate", "inspection_due"})


@dataclass(frozen=True)
class PotWarning:
    code: str
    words: str


@dataclass(frozen=True)
class Advice:
    """What a screen says beside a pot.

    `refusals` is why it takes no load, empty for a pot that does. `limit_pa` is the lower of certificate and
    relief valve, `warn_pa` where warning begins, `lid_force_n` the push on the lid at the limit (None without
    a diameter). The usual pressures are there only where the nameplate is not lower than they are; `bubbles` says
    for each of them (Pa) what is left of a bubble's volume (ppm), by Boyle at the shop's altitude. Where its
    inspection was due on `due_on`, the pot is used with a reason in words until `grace_until`.
    """

    refusals: tuple[PotWarning, ...]
    warnings: tuple[PotWarning, ...]
    limit_pa: int | None
    warn_pa: int | None
    lid_force_n: int | None
    usual_low_pa: int | None
    usual_high_pa: int | None
    usual_source: str
    usual_large_pa: int | None = None
    bubbles: tuple[tuple[int, int], ...] = ()
    due_on: date | None = None
    grace_until: date | None = None

    @property
    def takes_loads(self) -> bool:
        return not self.refusals


def judge(machine: Machine, gauge_pa: int | None, on: date) -> tuple[PotWarning, ...]:
    """Return what is to be warned about before this pot is put under that pressure on that day.

    Raises `PotRefused` for a pot without certified figure or relief valve, one that is altered or may be, and
    a pressure above either figure; `LoadRefused` where no pressure was given. There is no argument that
    overrules it, and no role that could.
    """
    if type(gauge_pa) is not int or gauge_pa <= 0:
        raise LoadRefused("Give the pressure on the gauge that this load will stand under.", field="gauge_pa")
    refused, warned = _ruling(machine, gauge_pa, on)
    if refused:
        raise PotRefused(
            " ".join([*(reason.words for reason in refused), *_plate(machine)]),
            codes=[reason.code for reason in refused],
        )
    return warned


def advice(machine: Machine, on: date) -> Advice:
    """Return what to say beside a pot on a day, before any pressure is chosen. No query."""
    refused, warned = _ruling(machine, 0, on)
    known = [pa for pa in (machine.certified_pa, machine.relief_pa) if pa]
    limit = min(known) if known else None
    warn = limit * WARN_PPM // PPM if limit else None
    force = None
    if limit and machine.inside_diameter_um:
        force = round(lid_force_n(limit / 1000, machine.inside_diameter_um / 1000))
    # Beside a plate that can't bear it a usual pressure reads like permission, so it isn't shown there at
    # all.
    bears = not refused and warn is not None and warn >= USUAL_HIGH_PA
    large = USUAL_LARGE_PA if bears and warn is not None and warn >= USUAL_LARGE_PA else None
    usual = [pa for pa in (USUAL_LOW_PA if bears else None, USUAL_HIGH_PA if bears else None, large) if pa]
    return Advice(
        refused,
        warned,
        limit,
        warn,
        force,
        USUAL_LOW_PA if bears else None,
        USUAL_HIGH_PA if bears else None,
        USUAL_SOURCE if bears else "",
        large,
        tuple((pa, left_of_bubble_ppm(pa, on)) for pa in usual),
        *_grace(machine, on),
    )


def _grace(machine: Machine, on: date) -> tuple[date | None, date | None]:
    by = machine.inspect_by
    return (by, by + GRACE) if by is not None and by < on <= by + GRACE else (None, None)


def left_of_bubble_ppm(gauge_pa: int, on: date) -> int:
    """Return what is left of a bubble (ppm of its volume) under a gauge pressure on a day, at the shop's altitude."""
    altitude_m = studio_settings.known("altitude_m", on) or 0
    return round(bubble_volume_ratio(gauge_pa / 1000, altitude_m) * PPM)


def _ruling(machine: Machine, planned_pa: int, on: date) -> tuple[tuple[PotWarning, ...], tuple[PotWarning, ...]]:
    """Split what the craft rules into refusals and warnings."""
    verdict = pot_verdict(
        planned_pa=planned_pa,
        certified_pa=machine.certified_pa,
        relief_pa=machine.relief_pa,
        altered=machine.unaltered == Known.NO,
        inspection_due=machine.inspect_by is not None and machine.inspect_by < on,
        inspection_overdue=machine.inspect_by is not None and machine.inspect_by + GRACE < on,
        near_ppm=WARN_PPM,
    )
    found = [
        PotWarning(reason.replace(" ", "_"), words)
        for reason, words in zip(verdict.reasons, verdict.sentences, strict=True)
    ]
    if machine.unaltered == Known.UNKNOWN:
        found.insert(
            0,
            PotWarning(
                "perhaps_altered",
                "Nobody has said yet whether this pot is as it left its maker: look it over and say so first.",
            ),
        )
    warned = tuple(reason for reason in found if reason.code in WARNS)
    return tuple(reason for reason in found if reason.code not in WARNS), warned


def _plate(machine: Machine) -> list[str]:
    """Say what plate and valve allow, where both are known."""
    if not machine.certified_pa or not machine.relief_pa:
        return []
    plate, valve = show(machine.certified_pa, "pressure"), show(machine.relief_pa, "pressure")
    return [f"Its plate says {plate}, its valve opens at {valve}."]
