"""How hard resin lifts the wood that lies in it."""

from .rounding import divide

# Below this a blank stays where a dab of glue holds it. *Common practice, no source*.
BY_ITSELF_MG = 50_000


def lift_mg(wood_mm3: int, wood_kgm3: int, resin_kgm3: int) -> int:
    """Return the lift on wood under resin, as milligrams of weight that would hold it; below nothing it sinks.

    Two litres at 500 kg/m³ in resin of 1,050 lift 1.1 kg. Source: Archimedes.
    Raises ValueError for a density that isn't above zero, or a volume below it.
    """
    if wood_kgm3 <= 0 or resin_kgm3 <= 0 or wood_mm3 < 0:
        raise ValueError("A density is above zero, and a volume not below.")
    return divide(wood_mm3 * (resin_kgm3 - wood_kgm3), 1000)


def must_be_held(lifts_mg: int) -> bool:
    """Return whether it wants a screw, a wedge or a weight. *Common practice, no source*."""
    return lifts_mg >= BY_ITSELF_MG
