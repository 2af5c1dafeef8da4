"""What a lump can be beside plain timber, and how each is usually handled."""

from dataclasses import dataclass

from django.db import models


class WoodKind(models.TextChoices):
    BURR = "burr", "burr"
    CONE = "cone", "cone"
    POD = "pod", "seed pod"
    ROOT = "root", "root"
    CACTUS = "cactus", "cactus skeleton"
    OFFCUT = "offcut", "offcut"
    PLAIN = "plain", "plain wood"


class Stabilizing(models.TextChoices):
    NEVER = "never", "never"
    ALWAYS = "always", "always"
    CONDITION = "condition", "where it is soft"


@dataclass(frozen=True)
class KindDefaults:
    """How one kind is usually handled: step codes in order, stabilized or not, a word about the oven."""

    steps: tuple[str, ...]
    stabilizing: Stabilizing
    oven_note: str


# *Common practice, no source*: every studio changes these to its own.
DEFAULTS: dict[WoodKind, KindDefaults] = {
    WoodKind.BURR: KindDefaults(
        ("clean", "season", "dry", "stabilize", "cast", "turn", "sand", "finish"),
        Stabilizing.CONDITION,
        "Take bark and dirt out of the hollows first: what is dry in the middle takes longest.",
    ),
    WoodKind.CONE: KindDefaults(
        ("clean", "dry", "stabilize", "cast", "turn", "sand", "finish"),
        Stabilizing.ALWAYS,
        "Pitch melts and runs: put a tray beneath, and stay by it.",
    ),
    WoodKind.POD: KindDefaults(
        ("clean", "dry", "stabilize", "cast", "turn", "sand", "finish"),
        Stabilizing.ALWAYS,
        "Thin walls dry within hours: weigh early, and take out before they turn brittle.",
    ),
    WoodKind.ROOT: KindDefaults(
        ("clean", "season", "dry", "cast", "turn", "sand", "finish"),
        Stabilizing.CONDITION,
        "Wash out earth and stones first: a stone in a root breaks the tool later.",
    ),
    WoodKind.CACTUS: KindDefaults(
        ("clean", "dry", "stabilize", "cast", "turn", "sand", "finish"),
        Stabilizing.ALWAYS,
        "It holds sand in its holes: shake, blow and brush it out before it goes in.",
    ),
    WoodKind.OFFCUT: KindDefaults(
        ("dry", "stabilize", "cast", "turn", "sand", "finish"),
        Stabilizing.CONDITION,
        "It takes water back from the air on the shelf: dry it again before resin.",
    ),
    WoodKind.PLAIN: KindDefaults(
        ("season", "rough", "rest", "turn", "sand", "finish"),
        Stabilizing.NEVER,
        "Sound wood that is turned without resin is seasoned slowly, not baked.",
    ),
}


def defaults_for(kind: str) -> KindDefaults:
    """How this kind is usually handled; what is not said yet is taken for a burr. ValueError for no kind."""
    return DEFAULTS[WoodKind(kind) if kind else WoodKind.BURR]
