"""How fast a piece may turn."""

from math import pi

# Revolutions a minute times inches across; turners name 6,000 to 9,000 for work that runs true and halve it
# for what doesn't: common practice, no source.
TRUE, ROUGH, OFF = 6_000, 4_000, 2_000
BY_BALANCE = {"true": TRUE, "rough": ROUGH, "off": OFF}
INCH_UM = 25_400
STEP_RPM = 10


def top_rpm(across_um: int, *, balance: str, plate_rpm: int | None = None, doubtful: bool = False) -> int:
    """Return the most revolutions a minute for a piece so wide, rounded down to tens; never above the lathe's plate.

    Rule: revolutions times inches across stay under 6,000 for work that runs true, 4,000 not round yet, 2,000
    heavy on one side; `doubtful` (a void or soft resin inside) counts as heavy on one side. *Common practice, no
    source*; the lathe's own plate and manual decide. Raises ValueError for a width under a micrometre, a plate that
    says nothing, and a balance nobody names.
    """
    if across_um < 1:
        raise ValueError("Say how wide it is where it is widest.")
    if balance not in BY_BALANCE:
        raise ValueError(f"Work runs one of: {', '.join(BY_BALANCE)}.")
    if plate_rpm is not None and plate_rpm < 1:
        raise ValueError("A lathe turns.")
    limit = OFF if doubtful else BY_BALANCE[balance]
    rpm = limit * INCH_UM // across_um
    rpm = rpm if plate_rpm is None else min(rpm, plate_rpm)
    return max(rpm // STEP_RPM * STEP_RPM, 0) or min(rpm, STEP_RPM)


def rim_m_s(across_um: int, rpm: int) -> float:
    """Return how fast the rim runs, metres a second: pi × width × revolutions a second. Geometry."""
    return pi * across_um / 1_000_000 * rpm / 60
