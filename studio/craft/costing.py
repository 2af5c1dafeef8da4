"""Cost arithmetic in whole numbers: what is shared out adds up to what there was.

Money is in millionths of the currency, amounts in whole stored units (milligrams, thousandths of a piece).
"""

from collections.abc import Sequence
from dataclasses import dataclass

from .rounding import divide


def split(amount: int, weights: Sequence[int]) -> tuple[int, ...]:
    """Share a whole amount by weights; the shares add up to the amount, whatever it is.

    Each share is rounded toward zero and the units left over go to the largest remainders; of equal
    remainders the earlier one comes first, so the same question has the same answer every time. A negative
    amount is shared like the positive one and turned round. A weight of zero receives nothing.
    Source: largest remainder method; *common practice, no source*.

    Raises ValueError when there is nothing to share by (no weights, all zero, or one below zero).
    """
    if not weights:
        raise ValueError("There is nobody to share with: give at least one weight.")
    if any(weight < 0 for weight in weights):
        raise ValueError("A weight is below zero: weigh or measure that one again.")
    total = sum(weights)
    if total == 0:
        raise ValueError("All weights are zero: share equally instead, or weigh at least one.")
    size = abs(amount)
    shares, remainders = [], []
    for index, weight in enumerate(weights):
        share, remainder = divmod(size * weight, total)
        shares.append(share)
        remainders.append((-remainder, index))
    for _, index in sorted(remainders)[: size - sum(shares)]:
        shares[index] += 1
    return tuple(-share for share in shares) if amount < 0 else tuple(shares)


def draw_value(value_left: int, amount_left: int, take: int) -> int:
    """Return the value that leaves with `take` out of `amount_left` worth `value_left`.

    Rounded down, so the last unit takes the rest and a batch ends at exactly nothing. Draws from one batch
    therefore commute to within a millionth each.
    Source: specific identification of a purchase (IAS 2 paragraph 23); the rounding is ours.

    Raises ValueError when more is taken than there is, or less than nothing.
    """
    if take < 0 or value_left < 0 or amount_left < 0:
        raise ValueError("Amounts and values here can't be below zero.")
    if take > amount_left:
        raise ValueError("More is taken than there is left.")
    if take == 0:
        return 0
    return value_left * take // amount_left


@dataclass(frozen=True)
class Layer:
    """One purchase: an amount in stored units and what all of it cost."""

    amount: int
    value: int


@dataclass(frozen=True)
class Drawn:
    """What a draw took (the value that leaves) and the layers that stay behind."""

    value: int
    left: tuple[Layer, ...]


def fifo(layers: Sequence[Layer], take: int) -> Drawn:
    """Take an amount from the oldest purchase first, then the next.

    Source: IAS 2 paragraph 25. Raises ValueError when the layers don't hold that much.
    """
    _refuse_more_than_there_is(layers, take)
    value, left = 0, []
    for layer in layers:
        part = min(take, layer.amount)
        gone = draw_value(layer.value, layer.amount, part)
        take -= part
        value += gone
        if layer.amount > part:
            left.append(Layer(layer.amount - part, layer.value - gone))
    return Drawn(value, tuple(left))


def moving_average(layers: Sequence[Layer], take: int) -> Drawn:
    """Take an amount at the average cost of everything held; what stays is one layer at the same average.

    Source: IAS 2 paragraph 25 (weighted average, found again after each purchase).
    Raises ValueError when the layers don't hold that much.
    """
    _refuse_more_than_there_is(layers, take)
    amount = sum(layer.amount for layer in layers)
    worth = sum(layer.value for layer in layers)
    value = draw_value(worth, amount, take)
    left = (Layer(amount - take, worth - value),) if amount > take else ()
    return Drawn(value, left)


def specific(layers: Sequence[Layer], takes: Sequence[int]) -> Drawn:
    """Take named amounts from named purchases: `takes[i]` leaves `layers[i]`.

    Source: IAS 2 paragraph 23, for things that are not interchangeable.
    Raises ValueError when the lists differ in length or one purchase doesn't hold what is taken from it.
    """
    if len(layers) != len(takes):
        raise ValueError("Say for each purchase how much is taken from it.")
    value, left = 0, []
    for layer, take in zip(layers, takes, strict=True):
        gone = draw_value(layer.value, layer.amount, take)
        value += gone
        if layer.amount > take:
            left.append(Layer(layer.amount - take, layer.value - gone))
    return Drawn(value, tuple(left))


def _refuse_more_than_there_is(layers: Sequence[Layer], take: int) -> None:
    if take < 0:
        raise ValueError("Amounts and values here can't be below zero.")
    if take > sum(layer.amount for layer in layers):
        raise ValueError("More is taken than there is left.")


@dataclass(frozen=True)
class Place:
    """Something in a shared load: when it went in, when it came out, and what it is shared by.

    Times are whole seconds on one clock; the weight is a volume, a mass, or 1 for each (equally).
    """

    weight: int
    in_s: int
    out_s: int


def share_hours(places: Sequence[Place], started_s: int, ended_s: int) -> tuple[int, ...]:
    """Share the seconds of a load between what lay in it; the shares add up to the whole load.

    Between two changes (something put in late, taken out early, lost) the seconds are shared by weight among
    what lies inside. Seconds in which nothing lay inside (warming up, left running) are shared like the rest,
    in proportion to the shares found. Something that never overlaps the load receives nothing; when none
    does, the load's own weights share it.
    Source: our own, following IAS 2 paragraph 12 (systematic allocation).

    Raises ValueError when the load ends before it starts, a place comes out before it goes in, or all
    weights are zero.
    """
    if ended_s < started_s:
        raise ValueError("The load ends before it starts: put the two times right.")
    if any(place.out_s < place.in_s for place in places):
        raise ValueError("Something comes out before it goes in: put its times right.")
    total = ended_s - started_s
    spans = [(max(place.in_s, started_s), min(place.out_s, ended_s)) for place in places]
    changes = sorted({started_s, ended_s, *(t for span in spans if span[0] < span[1] for t in span)})
    raw = [0] * len(places)
    for since, until in zip(changes, changes[1:], strict=False):
        inside = [i for i, (put_in, out) in enumerate(spans) if put_in <= since and until <= out]
        weights = [places[i].weight for i in inside]
        if not any(weights):
            continue
        for i, share in zip(inside, split(until - since, weights), strict=True):
            raw[i] += share
    return split(total, raw if any(raw) else [place.weight for place in places])


def overhead_rate(year_micro: int, normal_hours_s: int) -> int:
    """Return overhead in millionths of the currency per hour, at the hours booked in a normal year.

    Source: IAS 2 paragraph 13 (fixed overhead on normal capacity, not on this year's).
    Raises ValueError without hours, or when a figure is below zero.
    """
    if year_micro < 0:
        raise ValueError("Overhead for a year can't be below zero.")
    if normal_hours_s <= 0:
        raise ValueError("Say how many hours you book at the bench in a normal year.")
    return divide(year_micro * 3600, normal_hours_s)


def applied_overhead(rate_micro: int, booked_s: int) -> int:
    """Return the overhead carried by booked seconds at a rate in millionths per hour, half up.

    Source: IAS 2 paragraph 13. Raises ValueError when the seconds are below zero.
    """
    if booked_s < 0:
        raise ValueError("Hours at the bench can't be below zero.")
    return divide(rate_micro * booked_s, 3600)


def over_absorbed(applied_micro: int, spent_micro: int) -> int:
    """Return applied less spent: above zero too much was charged to work, below zero too little.

    Source: cost accounting's over- and under-applied overhead (OpenStax Managerial Accounting, 6.3).
    """
    return applied_micro - spent_micro


@dataclass(frozen=True)
class ProcessLoss:
    """What a step with an expected loss yields.

    `good_value` is what the good output carries, `unusual_value` what the loss beyond the expected one cost
    (below zero: a gain, less was lost than expected), `unusual_amount` its amount.
    """

    unit_numerator: int
    unit_denominator: int
    good_value: int
    unusual_amount: int
    unusual_value: int


def normal_loss(amount_in: int, value_in: int, good_out: int, loss_ppm: int, scrap_value: int = 0) -> ProcessLoss:
    """Return what good output carries when a known share is expected to be lost.

    Cost per unit = (value in - scrap value of the expected loss) / (amount in - expected loss); loss beyond
    the expected one carries that cost out of the stock, into the year's losses.
    Source: IAS 2 paragraph 16(a) (abnormal waste is not a cost of stock); AS 2 study text, Illustration 3.

    Amounts in stored units, values in millionths, share in parts per million. Raises ValueError when
    everything is expected to be lost or more comes out than went in.
    """
    if amount_in <= 0 or not 0 <= loss_ppm < 1_000_000:
        raise ValueError("Something must go in, and not all of it may be expected to be lost.")
    if not 0 <= good_out <= amount_in:
        raise ValueError("What comes out good can't be more than what went in.")
    if not 0 <= scrap_value <= value_in:
        raise ValueError("Scrap can't be worth more than what went in.")
    expected_out = amount_in - divide(amount_in * loss_ppm, 1_000_000)
    if expected_out == 0:
        raise ValueError("Something must go in, and not all of it may be expected to be lost.")
    net = value_in - scrap_value
    good_value = divide(net * good_out, expected_out)
    return ProcessLoss(net, expected_out, good_value, expected_out - good_out, net - good_value)
