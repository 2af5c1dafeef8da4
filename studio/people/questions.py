"""The questions a studio answers about itself: data, read by the settings page, the help pages and the tests.

A question with no default is asked at the moment its answer is first needed. `suggestion` is what the form
proposes; `whose` says whose figure the default or suggestion is, and the screen repeats it.
"""

from studio.fields import formats
from studio.people.asked import OURS, PLATE, PRACTICE, Question, a_share, some_money
from studio.people.bench_questions import BENCH
from studio.people.kinds import Address, Choice, Currency, Kind, NumberPattern, TimeZone, Whole, Words, YesNo

__all__ = ["GROUPS", "QUESTIONS", "REGISTRY", "Question"]

GROUPS = {
    "studio": "The studio",
    "writing": "How things are written",
    "shop": "The shop",
    "cost": "What work costs",
    "selling": "Selling",
    "bench": "At the bench",
    "cards": "Cards and tags",
}


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
        a_share(),
        dated=True,
    ),
    Question(
        "tariff_micro",
        "cost",
        "What does a kilowatt-hour cost?",
        "From the last bill, with everything on it divided by the kilowatt-hours.",
        some_money(),
        dated=True,
        whose=PLATE,
    ),
    Question(
        "overhead_year_micro",
        "cost",
        "What does the shop cost in a year, worked in or not?",
        "Rent, insurance, heating, the accountant: what no single piece uses.",
        some_money(),
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
        a_share(),
        suggestion=150_000,
        dated=True,
        whose=PRACTICE,
    ),
    Question(
        "gallery_share_ppm",
        "selling",
        "What share does a gallery usually keep?",
        "Each gallery can have its own; this one stands in where none is agreed yet.",
        a_share(),
        dated=True,
    ),
    Question(
        "card_fee_ppm",
        "selling",
        "What share does a card payment cost you?",
        "From the card reader's terms. Nothing is an answer too.",
        a_share(),
        dated=True,
        whose=PLATE,
    ),
    Question(
        "cost_to_sell_micro",
        "selling",
        "What does selling one piece cost you, beside the gallery's share?",
        "Box, carriage you pay, photographs, the tag.",
        some_money(),
        dated=True,
    ),
    Question(
        "sales_tax_ppm",
        "selling",
        "What sales tax do you add to a price?",
        "Nothing, if you aren't registered for one.",
        a_share(),
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
    *BENCH,
)
REGISTRY: dict[str, Question] = {question.key: question for question in QUESTIONS}
