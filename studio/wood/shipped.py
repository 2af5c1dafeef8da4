"""The species that come with the program, with the source of each figure.

Density is oven-dry weight over green size, the mean of the rows of the Global Wood Density Database;
shrinkage is of the volume, green to oven-dry. Whether a wood is oily or usually stabilized is *common
practice, no source*; botanical names are *from memory*; protected lists are as they were read, and change.
"""

from dataclasses import dataclass

DENSITY_SOURCE = "Global Wood Density Database, mean of {rows}: oven-dry weight over green size"
SHRINKAGE_SOURCE = "Wood Handbook, FPL-GTR-190 (2010), table 4-3, page 4-6"
PRACTICE = "Stabilizing and oily or not: common practice, no source. Change it to your own."
DUST = (
    "Dust of any wood harms lungs and nose: take it away at the tool and wear a mask that fits. "
    "A limit often named is 1 mg in a cubic metre of air (ACGIH, 2007)."
)
CEDAR_DUST = (
    "This dust brings on asthma: half the limit of other woods is named for it, 0.5 mg in a cubic metre of "
    "air (ACGIH, 2007). Take it away at the tool and wear a mask that fits."
)
TROPICAL_DUST = DUST + " Many become allergic to this one (from memory): stop at the first rash."
LOOK = " Keep the proof of purchase, and look at the list of today before it is sold or sent."
LISTED = "The whole genus is on the protected lists (CITES, appendix II)." + LOOK
ROSEWOOD_LISTED = "On the strictest of the protected lists (CITES, appendix I, 1992)." + LOOK
MAHOGANY_LISTED = "Wood from the Americas is on the protected lists (CITES, appendix II)." + LOOK
PADAUK_LISTED = "Related woods of Africa are on the protected lists (CITES)." + LOOK


@dataclass(frozen=True)
class Shipped:
    """One species; density in kg/m³, shrinkage in tenths of a percent or None where no source was read."""

    common_name: str
    botanical_name: str
    density_kgm3: int
    rows: int = 1
    shrinkage_permille: int | None = None
    other_names: str = ""
    stabilizing: str = "condition"
    oily: bool = False
    protected_note: str = ""
    dust_note: str = DUST

    def fields(self) -> dict[str, object]:
        """The columns of a species row."""
        rows = "one row" if self.rows == 1 else f"{self.rows} rows"
        known = self.shrinkage_permille is not None
        return {
            "common_name": self.common_name,
            "botanical_name": self.botanical_name,
            "other_names": self.other_names,
            "density_kgm3": self.density_kgm3,
            "density_basis": "green",
            "density_source": DENSITY_SOURCE.format(rows=rows),
            "shrinkage_ppm": self.shrinkage_permille * 1000 if self.shrinkage_permille is not None else None,
            "shrinkage_source": SHRINKAGE_SOURCE if known else "",
            "stabilizing": self.stabilizing,
            "oily": self.oily,
            "protected_note": self.protected_note,
            "dust_note": self.dust_note,
            "practice_note": PRACTICE,
            "own": False,
        }


SHIPPED: tuple[Shipped, ...] = (
    Shipped("African blackwood", "Dalbergia melanoxylon", 1077, 5, None, "grenadilla", "never", True,
            LISTED, TROPICAL_DUST),
    Shipped("Basswood", "Tilia americana", 320, 1, 158, "American lime, linden"),
    Shipped("Bay laurel", "Umbellularia californica", 510, 1, None, "Oregon myrtle, pepperwood"),
    Shipped("Bigleaf maple", "Acer macrophyllum", 440, 1, None, "Oregon maple"),
    Shipped("Black cherry", "Prunus serotina", 440, 1, 115, "American cherry"),
    Shipped("Black locust", "Robinia pseudoacacia", 660, 1, None, "false acacia", "never"),
    Shipped("Black walnut", "Juglans nigra", 510, 1, 128, "American walnut"),
    Shipped("Box", "Buxus sempervirens", 780, 1, None, "boxwood", "never"),
    Shipped("Boxelder", "Acer negundo", 416, 1, None, "ash-leaved maple, Manitoba maple"),
    Shipped("Brazilian rosewood", "Dalbergia nigra", 812, 8, None, "jacaranda", "never", True,
            ROSEWOOD_LISTED, TROPICAL_DUST),
    Shipped("Cocobolo", "Dalbergia retusa", 860, 4, None, "granadillo", "never", True, LISTED, TROPICAL_DUST),
    Shipped("Lignum vitae", "Guaiacum officinale", 1177, 3, None, "guaiacum", "never", True,
            LISTED, TROPICAL_DUST),
    Shipped("Mahogany", "Swietenia macrophylla", 520, 11, None, "bigleaf mahogany", "condition", False,
            MAHOGANY_LISTED, TROPICAL_DUST),
    Shipped("Olive", "Olea europaea", 806, 2, None, "", "never", True),
    Shipped("Osage orange", "Maclura pomifera", 760, 1, None, "hedge apple, bodark", "never"),
    Shipped("Pacific madrone", "Arbutus menziesii", 570, 1, None, "madrona, arbutus"),
    Shipped("Padauk", "Pterocarpus soyauxii", 658, 14, None, "African padauk", "condition", False,
            PADAUK_LISTED, TROPICAL_DUST),
    Shipped("Paper birch", "Betula papyrifera", 480, 1, 162, "white birch"),
    Shipped("Quaking aspen", "Populus tremuloides", 350, 1, 115, "trembling aspen"),
    Shipped("Red alder", "Alnus rubra", 370, 1, 126, "Oregon alder"),
    Shipped("Red maple", "Acer rubrum", 490, 1, None, "soft maple"),
    Shipped("Red oak", "Quercus rubra", 560, 1, None, "northern red oak"),
    Shipped("Redwood", "Sequoia sempervirens", 380, 1, None, "coast redwood"),
    Shipped("River red gum", "Eucalyptus camaldulensis", 721, 16, None, "red gum"),
    Shipped("Shagbark hickory", "Carya ovata", 640, 1, None, "hickory"),
    Shipped("Sugar maple", "Acer saccharum", 560, 1, None, "hard maple, rock maple"),
    Shipped("Teak", "Tectona grandis", 601, 36, None, "", "never", True, "", TROPICAL_DUST),
    Shipped("Western redcedar", "Thuja plicata", 310, 1, 68, "giant arborvitae", "condition", False,
            "", CEDAR_DUST),
    Shipped("White ash", "Fraxinus americana", 550, 1, 133, "American ash"),
    Shipped("White oak", "Quercus alba", 600, 1, 163, ""),
)  # fmt: skip
