"""Facts become sentences."""

import pytest

from studio.papers.facts import WoodFact
from studio.papers.fonts import ITALIC
from studio.papers.words import botanical, sentence, where_from, wood_spans


@pytest.mark.parametrize(
    ("name", "italic", "shown"),
    [
        ("Quercus robur", "Quercus robur", "Quercus robur"),
        ("Dalbergia sp.", "Dalbergia", "Dalbergia sp."),
        ("Eucalyptus spp.", "Eucalyptus", "Eucalyptus spp."),
        ("Platanus × hispanica", "Platanus hispanica", "Platanus × hispanica"),
        ("Platanus x hispanica", "Platanus hispanica", "Platanus × hispanica"),
        ("×Cuprocyparis leylandii", "Cuprocyparis leylandii", "×Cuprocyparis leylandii"),
        ("Pinus nigra subsp. laricio", "Pinus nigra laricio", "Pinus nigra subsp. laricio"),
        ("Acer palmatum 'Red Lace'", "Acer palmatum", "Acer palmatum 'Red Lace'"),
        ("", "", ""),
    ],
)
def test_a_plants_name_is_italic_but_for_ranks_hybrid_signs_and_cultivars(name: str, italic: str, shown: str) -> None:
    spans = botanical(name)
    assert "".join(span.text for span in spans) == shown
    assert " ".join("".join(span.text for span in spans if span.kind == ITALIC).split()) == italic


def test_where_it_stood_becomes_a_sentence_only_where_it_is_not_one() -> None:
    assert where_from("a field drain near Harra mill") == "From a field drain near Harra mill."
    assert where_from("Łódź, the old school") == "From Łódź, the old school."
    assert where_from("near the mill") == "Near the mill."
    assert where_from("it fell in the March storm") == "It fell in the March storm."
    assert where_from("  ") == ""


def test_a_sentence_gets_its_capital_and_stop_and_keeps_its_own() -> None:
    assert sentence("oil it once a year") == "Oil it once a year."
    assert sentence("Really?") == "Really?"
    assert sentence(" \n ") == ""


def test_a_wood_known_by_one_name_only_has_no_stray_comma_or_stop() -> None:
    def shown(wood: WoodFact) -> str:
        return "".join(span.text for span in wood_spans(wood))

    assert shown(WoodFact("yew")) == "Yew."
    assert shown(WoodFact("", "Taxus sp.")) == "Taxus sp."
    assert shown(WoodFact("yew", "Taxus sp.", "", "told by the seller")) == "Yew, Taxus sp. Told by the seller."
    assert shown(WoodFact("", "", "the churchyard")).strip() == "From the churchyard."
    assert shown(WoodFact("")) == ""
