"""Everything that is asked of this room."""

from studio.pricing.coming import Coming, coming
from studio.pricing.hours import own_seconds
from studio.pricing.likes import LikeSold, likes, median_days
from studio.pricing.offers import HasLeft, Offer, Terms, offer, offers, terms_on
from studio.pricing.yields import StepYield, Yields, measured

__all__ = [
    "Coming",
    "HasLeft",
    "LikeSold",
    "Offer",
    "StepYield",
    "Terms",
    "Yields",
    "coming",
    "likes",
    "measured",
    "median_days",
    "offer",
    "offers",
    "own_seconds",
    "terms_on",
]
