"""What an hour of a machine costs: the power it draws and its own wear. Whole numbers, millionths of the
currency."""

from collections.abc import Sequence
from datetime import date, datetime

from studio.craft.costing import Place, share_hours, split
from studio.craft.rounding import divide
from studio.equipment.models import Load, LoadPlace, Machine, MachineKind
from studio.ledger.accounts import Account, Component, Kind
from studio.ledger.operations import Leg
from studio.people import settings as studio_settings

HOUR_S = 3600
PPM = 1_000_000
WATTS_PER_KILOWATT = 1000

# Share of the rated power drawn over an hour of running; the studio changes it machine by machine. *Common
# practice, no source*: a thermostat holds an oven with about a third of its power, a motor on and off works
# at about half; a pump that runs without a stop draws all of it.
USUAL_DUTY_PPM: dict[str, int] = {
    MachineKind.OVEN: 350_000,
    MachineKind.VACUUM_CHAMBER: PPM,
    MachineKind.PRESSURE_POT: PPM,
    MachineKind.LATHE: 500_000,
    MachineKind.COMPRESSOR: 500_000,
    MachineKind.SCALE: PPM,
    MachineKind.OTHER: PPM,
}


def energy_micro(machine: Machine, seconds: int, tariff_micro: int) -> int:
    """Return what the power for so many seconds costs: rated watts × duty × hours × price of a kilowatt-hour.

    Nothing where the power isn't known. Half up to a millionth. Source: energy is power times time; the duty
    is *common practice, no source* or the studio's own.
    """
    watts = machine.power_w or 0
    return divide(watts * machine.duty_ppm * tariff_micro * seconds, WATTS_PER_KILOWATT * PPM * HOUR_S)


def wear_micro(machine: Machine, seconds: int) -> int:
    """Return the wear of so many seconds: price ÷ the hours the machine will last; nothing until both are
    known.

    Half up to a millionth. Source: depreciation by units of use, *common practice, no source*.
    """
    if not machine.price_micro or not machine.life_s:
        return 0
    return divide(machine.price_micro * seconds, machine.life_s)


def draws_power(machine: Machine) -> bool:
    return bool(machine.power_w and machine.duty_ppm)


def machine_legs(*, machine: Machine, shares: Sequence[tuple[Account, int]], seconds: int, on: date) -> list[Leg]:
    """Legs that charge so many seconds of a machine to accounts by weight: power and wear, against their
    pools.

    The tariff is the one holding on the day `on`. Raises `MissingSetting` where the machine draws power and
    nobody has said what a kilowatt-hour costs. An open account is expected: pass `live(account)`.
    """
    tariff = studio_settings.value("tariff_micro", on) if draws_power(machine) else 0
    legs: list[Leg] = []
    weights = [weight for _, weight in shares]
    for total, part, pool in (
        (energy_micro(machine, seconds, tariff), Component.ENERGY, Kind.ENERGY),
        (wear_micro(machine, seconds), Component.WEAR, Kind.WEAR),
    ):
        if not total:
            continue
        legs.append(Leg(pool, part, value=-total))
        for (account, _), value in zip(shares, split(total, weights), strict=True):
            legs.append(Leg(account, part, value=value))
    return legs


def shares_of(load: Load, places: Sequence[LoadPlace], until: datetime) -> tuple[int, ...]:
    """Return the seconds of a load each place carries until then; they add up to the whole load.

    Places still inside count as staying until then, one whose account was closed meanwhile (lost, cut up)
    until it was closed.
    """

    def place(row: LoadPlace) -> Place:
        since = seconds_of(row.put_in_at)
        gone = row.out_at or min(row.account.closed_at or until, until)
        return Place(row.weight, since, max(since, seconds_of(gone)))

    return share_hours([place(row) for row in places], seconds_of(load.started_at), seconds_of(until))


def seconds_of(moment: datetime) -> int:
    """Return a moment as whole seconds on one clock."""
    return int(moment.timestamp())
