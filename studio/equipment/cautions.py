"""Safety cautions as data: one short sentence each, where it comes from, and who has the last word.

None of this replaces what it defers to. A figure read in a source carries the source; what only makers tell
each other says so.
"""

from dataclasses import dataclass

from studio.equipment.models import MachineKind, Purpose

COMMON = "common practice, no source"
NAMEPLATE = "the nameplate and the maker's manual"
DATA_SHEET = "the product's safety data sheet"
LOCAL_LAW = "local law and a competent inspector"
ELECTRICIAN = "a licensed electrician and local code"


@dataclass(frozen=True)
class Caution:
    """`kinds` and `purposes` say where it is shown (no purpose named: for every purpose of those kinds)."""

    code: str
    kinds: tuple[MachineKind, ...]
    words: str
    source: str
    defers_to: str
    purposes: tuple[Purpose, ...] = ()


OVEN, VACUUM, POT = MachineKind.OVEN, MachineKind.VACUUM_CHAMBER, MachineKind.PRESSURE_POT
LATHE, COMPRESSOR, SCALE = MachineKind.LATHE, MachineKind.COMPRESSOR, MachineKind.SCALE
OTHER = MachineKind.OTHER

CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "pot_lid_force",
        (POT,),
        "The lid is pushed with gauge pressure times its area: 4 bar under a 300 mm lid is 28 kN, nearly "
        "three tonnes. Stand clear of it while air goes in.",
        "force = gauge pressure × area",
        NAMEPLATE,
    ),
    Caution(
        "pot_clamps",
        (POT,),
        "Every clamp on, drawn up evenly, before any air. All air out and the gauge at nothing before the "
        "first clamp is loosened.",
        COMMON,
        NAMEPLATE,
    ),
    Caution(
        "pot_relief",
        (POT, COMPRESSOR),
        "An air receiver carries a gauge that can be seen and a spring-loaded safety valve that keeps it "
        "within 10 % above its highest working pressure; nothing that shuts may stand between the two.",
        "OAR 437-004-1505(3)(c), the Oregon twin of 29 CFR 1910.169(b)(3)",
        LOCAL_LAW,
    ),
    Caution(
        "pot_examination",
        (POT, COMPRESSOR),
        "Above half a bar the law may want an examination on record: in Great Britain safe limits, and from "
        "250 bar litres a written scheme by a competent person.",
        "Pressure Systems Safety Regulations 2000 (SI 2000/128), read in an insurer's guide",
        LOCAL_LAW,
    ),
    Caution(
        "pot_unaltered",
        (POT,),
        "A certificate covers the pot as it left its maker. A drilled lid, a weld, a changed valve or clamp ends it.",
        COMMON,
        LOCAL_LAW,
    ),
    Caution(
        "pot_isocyanate",
        (POT,),
        "Urethane hardeners hold isocyanates: once sensitized, always sensitized. Gloves, moving air, and "
        "the respirator the data sheet names; the limit for MDI in the United States is a ceiling of 0.02 "
        "ppm.",
        "NIOSH page 101688 (OSHA ceiling 0.02 ppm); the rest common practice, no source",
        DATA_SHEET,
        (Purpose.PRESSURE,),
    ),
    Caution(
        "pot_training",
        (POT,),
        "In the European Union resins with 0.1 % or more diisocyanates may be used at work only by people "
        "trained for it, again every five years.",
        "REACH Annex XVII entry 74, Regulation (EU) 2020/1149",
        LOCAL_LAW,
        (Purpose.PRESSURE,),
    ),
    Caution(
        "left_over_mix",
        (POT, VACUUM),
        "Left-over mix in a cup heats by itself, the more the deeper it stands. Keep it in sight, outdoors "
        "or on stone, until it is cold.",
        COMMON,
        DATA_SHEET,
    ),
    Caution(
        "vacuum_force",
        (VACUUM,),
        "Full vacuum puts a whole atmosphere on every wall: 7 kN on a 300 mm lid. Only a chamber made for "
        "vacuum, its glass or plastic without a scratch or a craze, and something over your eyes.",
        "force = pressure × area, 101,325 Pa; the rest common practice, no source",
        NAMEPLATE,
    ),
    Caution(
        "vacuum_acrylic",
        (VACUUM,),
        "Acrylic crazes where solvent, or resin with solvent in it, touches it, and a crazed wall bursts inwards "
        "without warning. Wipe it with soap and water only, and retire it at the first craze.",
        COMMON,
        NAMEPLATE,
    ),
    Caution(
        "vacuum_implosion",
        (VACUUM,),
        "What gives way under vacuum falls in, and its pieces fly out on the far side. A cage or a blanket over "
        "glass; never a jar, a pail, or a lid made for pressure.",
        COMMON,
        NAMEPLATE,
    ),
    Caution(
        "vacuum_pump_oil",
        (VACUUM,),
        "What boils off resin ends in the pump's oil and in the air. Lead the exhaust outdoors and change "
        "the oil as its maker says.",
        COMMON,
        NAMEPLATE,
    ),
    Caution(
        "oven_unattended",
        (OVEN,),
        "Hot dry wood can smoulder and catch fire hours later. Don't leave an oven alone without its own "
        "high-limit cut-out, a smoke alarm within hearing, and clear space round it.",
        COMMON,
        NAMEPLATE,
    ),
    Caution(
        "oven_pitch_and_solvent",
        (OVEN,),
        "Pitchy wood, wood still wet with resin and wood cleaned with solvent give off vapour that lights. Let "
        "solvent air off outdoors first; pitch goes on foil, at a lower heat.",
        COMMON,
        DATA_SHEET,
        (Purpose.DRY, Purpose.WARM, Purpose.BAKE, Purpose.POST_CURE),
    ),
    Caution(
        "oven_wiring",
        (OVEN, LATHE, COMPRESSOR),
        "The cable, the fuse and the earth belong to the full rated power, whatever it draws on average.",
        COMMON,
        ELECTRICIAN,
    ),
    Caution(
        "oven_not_for_food",
        (OVEN,),
        "An oven that has held resin or treated wood never holds food again. Let it breathe outdoors or "
        "into an extract, not into the room.",
        COMMON,
        DATA_SHEET,
    ),
    Caution(
        "oven_dry_point",
        (OVEN,),
        "Oven-dry is found at 103 °C, give or take 2. Hotter than that, wood goes on losing weight that is "
        "wood, not water, and comes nearer to charring.",
        "ASTM D4442 as summarized by a test laboratory; drying series of maple at 130 °C, student poster, SUNY ESF",
        NAMEPLATE,
        (Purpose.DRY, Purpose.SEASON),
    ),
    Caution(
        "oven_bake_fumes",
        (OVEN,),
        "Stabilizing resin gives off vapour as it sets. Wrap it, keep to the sheet's temperature, and move "
        "the air out.",
        COMMON,
        DATA_SHEET,
        (Purpose.BAKE, Purpose.POST_CURE),
    ),
    Caution(
        "lathe_dust",
        (LATHE, OTHER),
        "Wood dust harms before it is seen: the recommended limit is 1 mg in a cubic metre of air over a "
        "shift. Extract at the tool, and wear a mask that fits for sanding.",
        "NIOSH recommended limit, read at osha.gov, wood dust evaluation",
        LOCAL_LAW,
    ),
    Caution(
        "lathe_speed",
        (LATHE,),
        "Keep under the speed the lathe's maker gives for the diameter; a cast piece with a void is out of "
        "balance. Full face shield, and stand out of line when it starts.",
        COMMON,
        NAMEPLATE,
    ),
    Caution(
        "compressed_air",
        (COMPRESSOR,),
        "Blowing a piece clean: below 30 psi (2 bar), with a guard against chips and glasses on; never at skin.",
        "29 CFR 1910.242(b), as quoted",
        LOCAL_LAW,
    ),
    Caution(
        "receiver_drain",
        (COMPRESSOR,),
        "Water rusts a receiver from the inside. Drain it at its lowest point after each day's use.",
        "a drain at the lowest point: WAC 296-155-380; how often: common practice, no source",
        NAMEPLATE,
    ),
    Caution(
        "scale_check",
        (SCALE,),
        "A scale that is a little off makes every mix a little off. Put a known weight on it before you weigh resin.",
        COMMON,
        NAMEPLATE,
    ),
)


# What stands boxed where a lid is about to close, and where two parts are about to meet; the rest is folded away.
AT_THE_LID = ("pot_lid_force", "pot_clamps", "vacuum_force", "vacuum_implosion", "vacuum_acrylic")
AT_THE_MIX = ("pot_isocyanate", "left_over_mix")


def at_the_mix() -> tuple[Caution, ...]:
    """Return what to mind before two parts meet: hardeners and air first, then what stays in the cup."""
    found = {caution.code: caution for caution in CAUTIONS}
    return tuple(found[code] for code in AT_THE_MIX)


def cautions_for(kind: str, purpose: str = "") -> tuple[Caution, ...]:
    """Return the cautions for a kind of machine, in the order to read them; with a purpose, those that
    concern it."""
    return tuple(
        caution
        for caution in CAUTIONS
        if kind in caution.kinds and (not purpose or not caution.purposes or purpose in caution.purposes)
    )
