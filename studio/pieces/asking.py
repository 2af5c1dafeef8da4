"""How this studio says a price: before tax, or with the tax in it. What is stored is always before tax."""

from dataclasses import dataclass
from datetime import date

from studio.craft import pricing
from studio.fields.formats import coin_digits
from studio.people import settings as studio_settings
from studio.people.settings import NO_CURRENCY, MissingSetting


@dataclass(frozen=True)
class Way:
    """The way prices are said on a day: `tax_ppm` is nothing where they are said before tax."""

    with_tax: bool
    tax_ppm: int
    coin_micro: int

    @property
    def words(self) -> str:
        return "With tax." if self.with_tax else "Before tax."

    def shown(self, before_micro: int) -> int:
        """What is said of a price kept before tax, in whole coins where tax is in it."""
        if not self.with_tax:
            return before_micro
        return pricing.with_tax(before_micro, self.tax_ppm, self.coin_micro)

    def before(self, shown_micro: int) -> int:
        """What is kept of a price said in whole coins: `shown` says it again exactly."""
        if not self.with_tax:
            return shown_micro
        return pricing.before_tax(shown_micro, self.tax_ppm, self.coin_micro)

    def in_coins(self, shown_micro: int) -> int:
        """What is left of a price said, tax off, as it is paid: in whole coins, half up."""
        return pricing.with_tax(self.before(shown_micro), 0, self.coin_micro)


def way(on: date, *, must_know: bool = False) -> Way:
    """The studio's way on a day. With `must_know` raises `MissingSetting` where tax is in the price and nobody
    has said how much. At most one query.
    """
    held = studio_settings.answers()
    with_tax = bool(held.holding("prices_include_tax", on))
    tax = held.holding("sales_tax_ppm", on) if with_tax else 0
    if tax is None and must_know:
        raise MissingSetting("sales_tax_ppm")
    return Way(with_tax, tax or 0, int(10 ** (6 - coin_digits(held.holding("currency", None) or NO_CURRENCY))))
