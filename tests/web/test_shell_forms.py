"""How a form is drawn: what is asked, what helps, what was wrong, all tied to the field."""

import re

from django.core.files.uploadedfile import SimpleUploadedFile

from studio.fields.errors import Refused
from tests.web.shell_urls import Lump

GOOD = {"number": "41", "weight": "6.4 kg", "why": "a"}


def control(html: str, name: str) -> str:
    return re.search(rf'<(?:input|select|textarea)[^>]*name="{name}"[^>]*>', html)[0]


def test_help_and_error_are_both_tied_to_their_field():
    html = str(Lump({**GOOD, "number": ""}))
    tied = re.search(r'aria-describedby="([^"]*)"', control(html, "number"))[1].split()
    assert tied == ["id_number_helptext", "id_number_error"]
    assert all(f'id="{name}"' in html for name in tied)
    assert 'aria-invalid="true"' in control(html, "number")
    assert "aria-invalid" not in control(html, "weight")


def test_help_is_text_and_not_markup():
    assert "Pencilled &lt;on&gt; the end." in str(Lump())


def test_a_figure_brings_up_the_keys_for_figures_and_keeps_its_class():
    weight = control(str(Lump()), "weight")
    assert 'inputmode="decimal"' in weight and 'class="typed"' in weight and 'autocomplete="off"' in weight


def test_a_photograph_opens_the_camera():
    photo = control(str(Lump()), "photo")
    assert 'capture="environment"' in photo and "image/heic" in photo


def test_a_choice_is_chips_with_a_legend_and_no_list_to_open():
    html = str(Lump())
    assert "<legend>Why?</legend>" in html
    assert html.count('type="radio"') == 2 and "<select" not in html
    assert '<label for="id_why_0"><input type="radio"' in html


def test_a_tick_is_one_line_to_press():
    html = str(Lump())
    assert re.search(
        r'<label class="tick" for="id_waxed"><input type="checkbox"[^>]*><span>Waxed at the ends</span>', html
    )
    assert "if you like" not in html.split("Waxed at the ends")[1].split("</label>")[0]


def test_only_what_may_be_left_out_says_so():
    html = str(Lump())
    assert 'What was paid?<span class="optional">, if you like</span>' in html
    assert ">What does it weigh?</label>" in html


def test_nothing_left_empty_is_told_in_a_sentence_for_its_kind():
    errors = Lump({}).errors
    assert errors["weight"] == ["Nothing is written here yet."]
    assert errors["why"] == ["Choose one of these."]


def test_what_is_wrong_stands_on_top_too_and_leads_to_the_field():
    html = str(Lump({**GOOD, "weight": "", "why": ""}))
    summary = html.split("</ul></div>")[0]
    assert 'href="#id_weight"' in summary and 'href="#id_why"' in summary and 'href="#id_number"' not in summary
    assert 'id="id_why"' in html
    assert "Nothing was stored yet" not in str(Lump(GOOD))


def test_a_field_no_heading_names_is_still_asked():
    groups = Lump().groups()
    assert [words for words, _ in groups] == ["", "How it was got"]
    asked = [field.name for _, fields in groups for field in fields]
    assert sorted(asked) == sorted(Lump().fields)


def test_a_refusal_stands_by_its_field_or_on_top():
    form = Lump(GOOD)
    assert form.is_valid()
    form.refuse(Refused("41 is taken. The next free one is 42.", field="number"))
    form.refuse(Refused("The period is closed.", field="period"))
    html = str(form)
    assert 'id="id_number_error"><li>41 is taken.' in html
    assert "<p>The period is closed.</p>" in html
    assert form.non_field_errors() == ["The period is closed."]


def test_typed_text_is_shown_back_as_it_was_typed():
    html = str(Lump({**GOOD, "weight": '1½" <&', "why": ""}))
    assert 'value="1½&quot; &lt;&amp;"' in control(html, "weight")


def test_a_file_is_taken_when_one_is_chosen():
    form = Lump(GOOD, {"photo": SimpleUploadedFile("a.jpg", b"x", "image/jpeg")})
    assert form.is_valid(), form.errors
