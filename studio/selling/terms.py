"""What holds with a gallery on a day, and what of a price goes where."""

from dataclasses import dataclass
from datetime import date, timedelta

from studio.craft.rounding import divide
from studio.people import settings as studio_settings
from studio.selling.models import WHOLE_PPM, Gallery, GalleryTerms

# Common practice, no source: galleries settle once a month. Only where nothing was agreed.
USUAL_DAYS_TO_PAY = 30


@dataclass(frozen=True)
class Terms:
    """The gallery's share, how long it may take to pay, and whether it hands the sales tax on itself.

    `agreed` is false where nothing was agreed and the studio's usual share stands in.
    """

    share_ppm: int
    days_to_pay: int
    collects_tax: bool
    agreed: bool

    def due_on(self, sold_on: date) -> date:
        return sold_on + timedelta(days=self.days_to_pay)


def terms_on(gallery: Gallery, on: date) -> Terms:
    """Return the terms that hold on a day. At most two queries, and one for the settings.

    Before the first that were agreed, those first ones hold. With none, the studio's usual share; raises
    `people.settings.MissingSetting` where that isn't settled either.
    """
    rows = GalleryTerms.objects.filter(gallery=gallery)
    row = rows.filter(from_on__lte=on).order_by("-from_on", "-revision").first()
    if row is None:
        row = rows.order_by("from_on", "-revision").first()
    if row is None:
        usual = studio_settings.value("gallery_share_ppm", on)
        return Terms(usual, USUAL_DAYS_TO_PAY, collects_tax=True, agreed=False)
    return Terms(row.share_ppm, row.days_to_pay, row.collects_tax, agreed=True)


def part_in_coins(amount_micro: int, ppm: int) -> int:
    """Return a share of an amount, rounded half up to the smallest coin, in millionths."""
    coin = studio_settings.coin_micro()
    return divide(amount_micro * ppm, WHOLE_PPM * coin) * coin
