"""What templates write with: tags, quantities, times, the graduated rule."""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.paginator import Paginator
from django.template import engines
from django.utils import timezone

from studio.fields import formats
from studio.fields.formats import Formats
from studio.web import drawings, saying

NOW = datetime(2026, 11, 24, 14, 32, tzinfo=UTC)
NBSP = "\u00a0"


def drawn(text: str, **context: object) -> str:
    return engines["django"].from_string("{% load studio %}" + text).render(context)


def plain(text: str) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", text).replace(NBSP, " ").split())


@pytest.fixture(autouse=True)
def in_london():
    with timezone.override("Europe/London"), formats.use(Formats()):
        yield


def test_a_tag_is_a_link_when_there_is_somewhere_to_go():
    assert drawn('{% tag "41/3" "/lump/" %}') == '<a class="tag" href="/lump/">41/3</a>'
    assert drawn('{% tag "41/3" %}') == '<span class="tag">41/3</span>'
    assert '<span class="vh">blank </span>41/3' in drawn('{% tag "41/3" label="blank" %}')


def test_a_tag_never_lets_markup_through():
    assert "<b>" not in drawn("{% tag n u %}", n="<b>41", u='"><b>')


def test_quantities_are_written_the_studios_way():
    with formats.use(Formats(decimal=",", group=".", length_unit="in")):
        assert drawn("{% money v %}", v=1_140_000_000) == "1.140,00"
        assert plain(drawn("{% length v %}", v=88_900)) == "3 1/2 in"
    assert plain(drawn("{% grams v %}", v=412_000)) == "412 g"
    assert plain(drawn("{% duration v %}", v=12_000)) == "3 h 20"
    assert plain(drawn("{% share v %}", v=450_000)) == "45 %"
    assert plain(drawn("{% qty v 'temperature' %}", v=21_500)) == "21.5 °C"


def test_what_is_not_known_is_a_dash_not_a_nought():
    for name in ("money", "grams", "length", "duration", "share", "when", "ago"):
        assert drawn(f"{{% {name} v %}}", v=None) == "–"


@pytest.mark.parametrize(
    ("moment", "words"),
    [
        (NOW - timedelta(hours=1), "today 13:32"),
        (NOW - timedelta(days=1), "yesterday 14:32"),
        (NOW + timedelta(days=1), "tomorrow 14:32"),
        (NOW - timedelta(days=2), "Sun 22 Nov"),
        (datetime(2024, 2, 29, 9, 0, tzinfo=UTC), "29 Feb 2024"),
        (date(2026, 11, 24), "today"),
        (date(2026, 12, 12), "Sat 12 Dec"),
    ],
)
def test_a_moment_is_said_as_one_would_say_it(moment, words):
    assert saying.when(moment, NOW).replace(NBSP, " ") == words


def test_today_is_the_studios_day_not_greenwichs():
    late = datetime(2026, 6, 30, 23, 30, tzinfo=UTC)  # half past midnight in summer London
    assert saying.when(late, late + timedelta(minutes=5)).replace(NBSP, " ") == "today 00:30"
    with timezone.override("UTC"):
        assert saying.when(late, late + timedelta(hours=1)).replace(NBSP, " ") == "yesterday 23:30"


@pytest.mark.parametrize(
    ("style", "words"), [("month first", "Sat Dec 12"), ("year first", "2026-12-12"), ("day first", "Sat 12 Dec")]
)
def test_a_date_is_written_in_the_studios_order(style, words):
    with formats.use(Formats(date_style=style)):
        assert saying.when(date(2026, 12, 12), NOW).replace(NBSP, " ") == words


@pytest.mark.parametrize(
    ("before", "words"),
    [
        (timedelta(seconds=20), "just now"),
        (timedelta(hours=2, minutes=14), "2 h 14 ago"),
        (timedelta(days=41), "41 days ago"),
        (-timedelta(minutes=40), "in 40 min"),
        (-timedelta(seconds=5), "in a moment"),
    ],
)
def test_how_long_ago_is_said_in_hours_then_days(before, words):
    assert saying.ago(NOW - before, NOW).replace(NBSP, " ") == words


def test_a_clock_shows_the_span_even_where_nothing_runs():
    text = drawn('{% clock at "down" form="seconds" %}', at=timezone.now() + timedelta(seconds=461, milliseconds=500))
    assert 'data-clock="down"' in text and plain(text) == "7:41"
    assert plain(drawn("{% clock at %}", at=timezone.now() - timedelta(hours=2, minutes=10))) == "2 h 10"


def test_every_form_gets_a_key_of_its_own():
    keys = re.findall(r'value="([^"]+)"', drawn("{% submission %}{% submission %}"))
    assert len(set(keys)) == 2 and all(len(key) >= 20 for key in keys)


def test_the_rule_says_in_words_what_its_marks_show():
    steps = [
        {"word": "Clean", "state": "done"},
        {"word": "Stabilize", "state": "skip", "note": "dense"},
        {"word": "Cast", "state": "lost"},
        {"word": "Turn", "state": "now", "note": "2 h <10>", "url": "/x/"},
        {"word": "Finish", "state": "later"},
    ]
    text = drawn("{% route steps %}", steps=steps)
    assert plain(text) == "Clean done Stabilize left out dense Cast lost here Turn now 2 h &lt;10&gt; Finish"
    assert text.count('aria-current="step"') == 1


# --- a price range; the amounts are those of the hand-drawn look --------------------------------


def x_of(mark: drawings.Mark) -> int:
    whole, _, tenth = mark.x.partition(".")
    return int(whole) * 10 + int(tenth or 0)


def test_a_price_range_puts_lowest_ask_and_like_pieces_on_one_rule():
    rule = drawings.price_rule(
        lowest=672_000_000, ask=730_000_000, like_low=640_000_000, like_mid=760_000_000, like_high=900_000_000,
        like_count=14, earns="earns 32.56 an hour, wage 28",
    )  # fmt: skip
    assert rule.spoken == "Lowest ask 672, asking 730, fourteen like it sold between 640 and 900"
    at = {int(tick.words): x_of(tick) for tick in rule.ticks}
    assert at[600] < x_of(rule.lowest) < at[700] < x_of(rule.ask) < at[800]
    # 72 hundredths of the way from 600 to 700, to the tenth of a unit
    assert abs(x_of(rule.lowest) - (at[600] + (at[700] - at[600]) * 72 // 100)) <= 1
    assert (rule.lowest.anchor, rule.ask.anchor) == ("end", "start")


def test_a_price_range_with_nothing_known_draws_nothing():
    assert drawings.price_rule() is None
    assert drawn("{% price_rule %}").strip() == ""


@pytest.mark.parametrize("ask", [1, 999_999, 7_500_000, 95_500_000, 10**9, 123_456_789_000_000])
@pytest.mark.parametrize("lowest", [None, 1, 40_000_000, 10**12])
def test_whatever_the_amounts_every_word_and_line_stays_on_the_drawing(ask, lowest):
    rule = drawings.price_rule(lowest=lowest, ask=ask, earns="earns 32.56 an hour, wage 28")
    marks = [mark for mark in (rule.lowest, rule.ask, *rule.ticks) if mark]
    assert all(drawings.LEFT * 10 <= x_of(mark) <= drawings.RIGHT * 10 for mark in marks)
    assert 2 <= len(rule.ticks) <= 11
    earns = max(len(words) for _, words in rule.earns_lines)
    lowest_long = len(rule.lowest.words) if rule.lowest else 0
    for mark, longest in ((rule.ask, earns), (rule.lowest, lowest_long)):
        if mark is None or longest * drawings._LETTER > drawings.WIDTH:
            continue
        at = int(float(mark.text_x))
        left = at if mark.anchor == "start" else at - longest * drawings._LETTER
        assert left >= -1 and left + longest * drawings._LETTER <= drawings.WIDTH + 1


def test_a_curve_falls_as_the_weight_does_and_lists_every_reading():
    start = datetime(2026, 11, 20, 8, 0, tzinfo=UTC)
    points = [(start + timedelta(hours=h), g * 1000) for h, g in [(0, 560), (6, 500), (24, 440), (48, 420)]]
    made = drawings.curve(points[::-1], expected=415_000, low=410_000, high=418_000)
    heights = [float(dot.y) for dot in made.dots]
    assert heights == sorted(heights)
    assert [float(dot.x) for dot in made.dots][::3] == [drawings.CURVE_LEFT, drawings.CURVE_RIGHT]
    assert [tick.words for tick in made.across] == ["0", "12", "24", "36", "48"] and made.words == "hours"
    assert float(made.expected.x) > heights[-1]
    text = drawn("{% curve points %}", points=points)
    assert text.count("<tr>") == 5 and "560" in text
    assert plain(made.spoken) == "4 readings, from 560 g to 420 g over 48 h"


def test_one_reading_is_no_curve_and_two_at_one_moment_do_no_harm():
    assert drawings.curve([(NOW, 412_000)]) is None
    made = drawings.curve([(NOW, 412_000), (NOW, 412_000)])
    assert made is not None and len(made.dots) == 2


@pytest.mark.parametrize(("span", "step"), [(7, 1), (8, 2), (70, 10), (71, 20), (600, 100), (1, 1)])
def test_a_rule_is_divided_by_ones_twos_and_fives(span, step):
    assert drawings.nice_step(span) == step


def test_pages_keep_the_filters_of_the_address(rf):
    page = Paginator(range(100), 10).page(3)
    text = (
        engines["django"]
        .from_string('{% load studio %}{% pages page things="batches" %}')
        .render({"page": page}, rf.get("/stores/?q=resin&page=3"))
    )
    assert 'href="?q=resin&amp;page=4"' in text
    assert "21 to 30 of 100 batches" in plain(text)
    assert text.count('aria-current="page"') == 1


def test_two_lists_on_a_page_are_turned_each_by_its_own_word(rf):
    page = Paginator(range(100), 10).page(1)
    text = (
        engines["django"]
        .from_string('{% load studio %}{% pages page key="weighings" %}')
        .render({"page": page}, rf.get("/bench/3/?hours=2"))
    )
    assert 'href="?hours=2&amp;weighings=2"' in text and 'rel="next"' in text and 'rel="prev"' not in text
