"""An empty studio opened and furnished by hand: what stands on its shelves before the first lump comes in."""

from collections.abc import Callable
from datetime import datetime

from tests.web.walk import Walk

Hours = Callable[[float], datetime]


def open_the_studio(walk: Walk) -> None:
    """The four questions."""
    walk.fill("What is the studio called?", "Hollow Tree Studio")
    walk.pick("Which money do you count in?", "EUR")
    walk.choose("Millimetres, Celsius, bar")
    walk.pick("How do you write one thousand two hundred and a bit?", "1,234.56")
    walk.pick("Which clock do you live by?", "UTC")
    walk.fill("What do they call you?", "Ilse Brand")
    walk.fill("A name to sign in with", "ilse")
    walk.fill("A password", "soft wet shavings fly")
    walk.press("Open the studio")
    walk.reads("Take in wood", "Put resin in the stores", "Name your oven")


def furnish(walk: Walk, hours: Hours) -> None:
    """Resin, stabilizing resin, colour and finish; an oven, a bath, a mould."""
    for name, kind, grams, paid in (
        ("Slow clear A", "casting resin, Part A", "4000", "96"),
        ("Slow clear B", "casting resin, Part B", "4000", "80"),
        ("Bath resin", "stabilizing resin", "5000", "150"),
        ("Slate blue", "colorant", "50", "12.50"),
        ("Hard oil", "finish", "500", "20"),
    ):
        buy(walk, hours, name, kind, grams, paid)
    mix(walk)
    bath(walk, hours)
    oven(walk)
    mould(walk)


def buy(walk: Walk, hours: Hours, name: str, kind: str, grams: str, paid: str) -> None:
    walk.go_to("Stores")
    walk.press("A new material")
    walk.fill("What is it called?", name)
    walk.pick("What is it kept as?", kind)
    walk.press("Keep it")
    walk.press("Buy")
    walk.fill("How much came?", grams)
    walk.fill("What was paid for it?", paid)
    walk.at("When did it come?", hours(-48))
    walk.press("It came in")
    walk.reads(f"of {name} are in the stores as batch")


def mix(walk: Walk) -> None:
    walk.go_to("Stores")
    walk.press("A new casting resin")
    walk.fill("What is it called?", "Slow clear")
    walk.pick("Part A", "Slow clear A")
    walk.pick("Part B", "Slow clear B")
    walk.fill("Parts of A, by weight", "100")
    walk.fill("Parts of B, by weight", "83")
    walk.fill("How dense is it mixed?", "1.08 g/ml")
    walk.fill("How long can it be worked?", "30")
    walk.fill("When may it come out of the mould?", "24")
    walk.fill("When is it fully cured?", "72")
    walk.fill("Which data sheet is this from?", "Slow clear, sheet of March")
    walk.press("Keep it")
    walk.reads("Slow clear can be poured.")
    walk.go_to("Stores")
    # 4,000 g of Part B at 83 parts of 183: of Part A only 4,000 g are there, and Part A is the scarcer.
    walk.reads("Part A runs out first.", "makes 7320 g")


def bath(walk: Walk, hours: Hours) -> None:
    walk.press("A new bath")
    walk.fill("What do you call it?", "The tall chamber")
    walk.pick("Which stabilizing resin is in it?", "Bath resin")
    walk.press("Start it")
    walk.press("Fill it")
    walk.fill("How much was poured in?", "2 kg")
    walk.at("When was that?", hours(-24))
    walk.press("It is in the bath")
    walk.reads("2000 g")


def oven(walk: Walk) -> None:
    walk.go_to("Stores")
    walk.press("Machines")
    walk.press("Name your oven")
    walk.fill("What do you call it?", "The small oven")
    walk.fill("How hot does it go?", "200")
    walk.fill("What power does its plate say?", "500")
    walk.fill("How much of that does it draw over an hour?", "40")
    walk.fill("What did it cost?", "60")
    walk.fill("How many hours will it last?", "6000")
    walk.press("Keep it")
    walk.reads("The small oven")


def mould(walk: Walk) -> None:
    walk.go_to("Stores")
    walk.press("Moulds")
    walk.press("Measure a mould")
    walk.press("Round")
    walk.fill("What do you call it?", "The pipe end")
    walk.fill("How wide across inside?", "90")
    walk.fill("How high is it inside?", "60")
    walk.press("Keep it")
    walk.reads("The pipe end")
