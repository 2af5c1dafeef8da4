"""The questions a studio answers about itself: data, read by the settings page, the help pages and the tests.

A question with no default is asked at the moment its answer is first needed. `suggestion` is what the form
proposes; `whose` says whose figure the default or suggestion is, and the screen repeats it.
"""

from dataclasses import dataclass
from typing import Any

from studio.fields import formats
from studio.people.kinds import Address, Choice, Currency, Kind, NumberPattern, TimeZone, Whole, Words, YesNo

OURS = "ours"
PRACTICE = "common practice, no source"
YOURS = "yours to say"
PLATE = "on the bill or the label"

GROUPS = {
    "studio": "The studio",
    "writing": "How things are written",
    "shop": "The shop",
    "cost": "What work costs",
    "selling": "Selling",
    "bench": "At the bench",
    "cards": "Cards and tags",
}


@dataclass(frozen=True)
class Question:
    key: str
    group: str
    asks: str
    help: str
    kind: Kind
    default: Any = None
    suggestion: Any = None
    dated: bool = False
    whose: str = YOURS


_SHARE = "Give a share between 0 and 100 percent."
_MONEY = "Give an amount that isn't below nothing."


def _share(**more: Any) -> Whole:
    return Whole(dimension="share", high=10**6, says=_SHARE, **more)


def _money() -> Whole:
    return Whole(dimension="money", says=_MONEY)


def _units(key: str, asks: str, help_: str, choices: tuple[str, ...], default: str) -> Question:
    return Question(key, "writing", asks, help_, Choice(choices=choices), default)


QUESTIONS = (
    Question("studio_name", "studio", "What is the studio called?", "Stands on cards, tags and bills.", Kind()),
    Question(
        "maker_name",
        "studio",
        "What name goes on a card as the maker?",
        "As it is signed. Leave the studio's own name if you sign with that.",
        Kind(),
    ),
    Question(
        "currency",
        "studio",
        "Which money do you count in?",
        "One for everything. It can't be changed once the first amount is in the books.",
        Currency(),
    ),
    Question(
        "time_zone",
        "studio",
        "Which time zone are you in?",
        "Decides which day a thing happened on.",
        TimeZone(),
        "UTC",
    ),
    _units(
        "number_format",
        "How do you write one thousand two hundred and a bit?",
        "Figures are shown this way, and 1,5 or 1.500 is read this way.",
        tuple(formats.NUMBER_FORMATS),
        "1,234.56",
    ),
    _units("length_unit", "Millimetres or inches?", "You may always type the other.", formats.LENGTH_UNITS, "mm"),
    _units(
        "temperature_unit",
        "Celsius or Fahrenheit?",
        "You may always type the other.",
        formats.TEMPERATURE_UNITS,
        "°C",
    ),
    _units(
        "pressure_unit",
        "What does your gauge show?",
        "You may always type the other.",
        formats.PRESSURE_UNITS,
        "bar",
    ),
    _units(
        "fluid_measures",
        "Whose fluid ounce?",
        "Only matters when you type fl oz, pints or gallons.",
        formats.FLUID_MEASURES,
        "US",
    ),
    _units("date_style", "How do you write a date?", "Used on every page.", formats.DATE_STYLES, "day first"),
    Question(
        "paper_size",
        "cards",
        "Which paper is in the printer?",
        "Sheets of cards and tags are laid out for it.",
        Choice(choices=("A4", "Letter")),
        "A4",
    ),
    Question(
        "altitude_m",
        "shop",
        "How high above the sea is the shop?",
        "Water boils lower up there, and a pressure pot squeezes bubbles less against thinner air.",
        Whole(
            dimension="length",
            unit="m",
            low=-450,
            high=6000,
            says="Give a height between 450 m below the sea and 6,000 m above it.",
        ),
        dated=True,
    ),
    Question(
        "shop_temperature_mdegc",
        "shop",
        "How warm is the shop, on most days?",
        "With the damp of the air it says how dry wood can get on the shelf.",
        Whole(
            dimension="temperature",
            low=-30_000,
            high=50_000,
            says="Give a temperature between −30 °C and 50 °C.",
        ),
        dated=True,
    ),
    Question(
        "shop_humidity_ppm",
        "shop",
        "How damp is the shop's air, on most days?",
        "The percent a hygrometer shows.",
        _share(),
        dated=True,
    ),
    Question(
        "tariff_micro",
        "cost",
        "What does a kilowatt-hour cost?",
        "From the last bill, with everything on it divided by the kilowatt-hours.",
        _money(),
        dated=True,
        whose=PLATE,
    ),
    Question(
        "overhead_year_micro",
        "cost",
        "What does the shop cost in a year, worked in or not?",
        "Rent, insurance, heating, the accountant: what no single piece uses.",
        _money(),
        dated=True,
    ),
    Question(
        "normal_hours_s",
        "cost",
        "How many hours do you book on pieces in a normal year?",
        "Hands-on hours only. The year's shop cost is shared over these hours, however the year goes.",
        Whole(
            dimension="duration",
            unit="h",
            low=3600,
            high=20 * 8784 * 3600,
            says="Give at least one hour; a year has no more than 8,784 for each of you.",
        ),
        dated=True,
    ),
    Question(
        "loss_allowance_ppm",
        "cost",
        "What share of a piece's cost do you add to pay for those that break?",
        "Potters speak of 15 to 19 percent; nobody publishes a figure for castings. Yours will show in time.",
        _share(),
        suggestion=150_000,
        dated=True,
        whose=PRACTICE,
    ),
    Question(
        "waste_allowance_ppm",
        "bench",
        "How much more resin do you mix than the mould takes?",
        "For what stays in the cup, on the stick and on the floor: 5 to 15 percent is usual.",
        _share(),
        100_000,
        dated=True,
        whose=PRACTICE,
    ),
    Question(
        "short_to_leftover",
        "bench",
        "A gram of resin too little costs how many times a gram too much?",
        "Nine: one pour in ten may run short. What your pours took sets how much more is mixed, so that it stays so.",
        Whole(dimension="whole", low=1, high=999, says="Give a number between 1 and 999."),
        9,
        whose=OURS,
    ),
    Question(
        "scale_most_mg",
        "bench",
        "What is the most your mixing scale takes, the cup weighed off?",
        "More than that is mixed in several cups.",
        Whole(dimension="mass", unit="g", low=1_000, high=10**9, says="Give a weight between 1 g and 1,000 kg."),
        whose=PLATE,
    ),
    Question(
        "pour_hands_s",
        "bench",
        "How long do stirring, pouring and putting the lid on take you?",
        "From when the two parts touch.",
        Whole(dimension="duration", low=30, high=86_400, says="Give between half a minute and a day."),
        360,
        whose=PRACTICE,
    ),
    Question(
        "pot_fill_s",
        "bench",
        "How long does your pot take to come to pressure?",
        "Look at the clock once: the lid must be shut so long before the resin thickens.",
        Whole(dimension="duration", low=1, high=86_400, says="Give between a second and a day."),
    ),
    Question(
        "gallery_share_ppm",
        "selling",
        "What share does a gallery usually keep?",
        "Each gallery can have its own; this one stands in where none is agreed yet.",
        _share(),
        dated=True,
    ),
    Question(
        "card_fee_ppm",
        "selling",
        "What share does a card payment cost you?",
        "From the card reader's terms. Nothing is an answer too.",
        _share(),
        dated=True,
        whose=PLATE,
    ),
    Question(
        "cost_to_sell_micro",
        "selling",
        "What does selling one piece cost you, beside the gallery's share?",
        "Box, carriage you pay, photographs, the tag.",
        _money(),
        dated=True,
    ),
    Question(
        "sales_tax_ppm",
        "selling",
        "What sales tax do you add to a price?",
        "Nothing, if you aren't registered for one.",
        _share(),
        dated=True,
    ),
    Question(
        "prices_include_tax",
        "selling",
        "Is the tax already in your asking prices?",
        "Yes where shoppers see one price; no where it is added at the till.",
        YesNo(),
        dated=True,
    ),
    Question(
        "signed_number_pattern",
        "cards",
        "How do you write the number you sign a piece with?",
        "{n} is the running number, {nn} the same with two digits, {year} is 2026 and {yy} is 26.",
        NumberPattern(),
        "{n}",
        whose=OURS,
    ),
    Question(
        "first_lump_number",
        "bench",
        "Which number does your next lump of wood get?",
        "If you have numbered wood before, go on from there.",
        Whole(dimension="whole", low=1, high=10**6, says="Give a number between 1 and 1,000,000."),
        1,
        whose=OURS,
    ),
    Question(
        "scale_step_mg",
        "bench",
        "What is the smallest step your scale shows?",
        "Weights to mix are given in these steps.",
        Whole(dimension="mass", unit="g", low=1, high=10**6, says="Give a step between 0.001 g and 1 kg."),
        1_000,
        whose=OURS,
    ),
    Question(
        "warm_up_most_mdegc",
        "bench",
        "How warm may an oven be that wet, thick wood goes straight into?",
        "For a slow warm-up. Hotter than this you are asked first: the skin shrinks over a wet middle, and checks.",
        Whole(
            dimension="temperature",
            low=20_000,
            high=100_000,
            says="Give a temperature between 20 °C and 100 °C.",
        ),
        60_000,
        whose=PRACTICE,
    ),
    Question(
        "lie_out_limit_s",
        "bench",
        "How long may oven-dry wood lie out before it is weighed or soaked?",
        "Dry wood drinks from the air; after this you are reminded to dry it again.",
        Whole(
            dimension="duration",
            unit="h",
            low=60,
            high=30 * 86_400,
            says="Give between a minute and 30 days.",
        ),
        6 * 3600,
        whose=OURS,
    ),
    Question(
        "dry_rest_ppm",
        "bench",
        "How much may wood still have to lose and be called dry?",
        "By the curve of its own weights, as a share of the dry weight; beside the tests of the standards.",
        Whole(dimension="share", low=500, high=50_000, says="Give a share between 0.05 and 5 percent."),
        5_000,
        whose=OURS,
    ),
    Question(
        "cast_moisture_ppm",
        "bench",
        "Up to which moisture is wood that lay out still fit to soak or cast?",
        "Most who stabilize say under 10 percent, makers of urethane next to nothing.",
        Whole(dimension="share", low=1_000, high=200_000, says="Give a share between 0.1 and 20 percent."),
        50_000,
        whose=OURS,
    ),
    Question(
        "forms",
        "bench",
        "Which forms do you make?",
        "Your own words, one to a line, the usual ones first.",
        Words(most=60),
        ("bowl", "platter", "hollow form", "vase", "lidded box", "goblet", "sculpture"),
        whose=OURS,
    ),
    Question(
        "finishes",
        "bench",
        "Which finishes do you use?",
        "Your own words, one to a line, as a card should say them.",
        Words(most=80),
        ("hardening oil", "oil and wax", "wax", "lacquer", "shellac", "polished, no finish"),
        whose=OURS,
    ),
    Question(
        "care_words",
        "cards",
        "How should a piece be looked after?",
        "One sentence to a line, printed on the card.",
        Words(lines=8),
        ("Keep it out of strong sun and away from heat.", "Wipe with a dry, soft cloth."),
        whose=OURS,
    ),
    Question(
        "caution_words",
        "cards",
        "What must a buyer know?",
        "One sentence to a line, printed unless a piece says otherwise.",
        Words(lines=8),
        ("Not for food or flame.",),
        whose=OURS,
    ),
    Question(
        "base_url",
        "cards",
        "At which web address can the public reach this studio's pages?",
        "The square code on every card leads there for as long as the card lasts: choose one to keep.",
        Address(),
    ),
)
REGISTRY: dict[str, Question] = {question.key: question for question in QUESTIONS}
