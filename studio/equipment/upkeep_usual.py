"""What machines usually want, and how often: *common practice, no source*; each is the studio's to change."""

DAY_S, HOUR_S = 86_400, 3_600

MONTH_S = 30 * DAY_S

# kind of machine: (what, every so long, every so many hours it has run)
USUAL: dict[str, tuple[tuple[str, int | None, int | None], ...]] = {
    "pressure_pot": (
        ("Look over the lid gasket", MONTH_S, None),
        ("Look over clamps and their threads", MONTH_S, None),
        ("Try the relief valve", 3 * MONTH_S, None),
    ),
    "vacuum_chamber": (
        ("Change the pump oil", 6 * MONTH_S, 100 * HOUR_S),
        ("Look over lid and gasket for cracks", MONTH_S, None),
    ),
    "oven": (
        ("Test the high-limit cut-out", 6 * MONTH_S, None),
        ("Clean filters and vents", 3 * MONTH_S, 500 * HOUR_S),
    ),
    "compressor": (
        ("See that no water stands in the tank", 7 * DAY_S, None),
        ("Clean the air filter", 3 * MONTH_S, None),
        ("Try the safety valve", 3 * MONTH_S, None),
    ),
}
