from studio.fields.listing import listed


def test_words_are_said_as_one_says_them_aloud() -> None:
    assert listed([]) == ""
    assert listed(["measured"]) == "measured"
    assert listed(("measured", "signed")) == "measured and signed"
    assert listed(word for word in ("measured", "signed", "photographed")) == "measured, signed and photographed"
    assert listed(["an owner", "a maker", "a bookkeeper"], "or") == "an owner, a maker or a bookkeeper"
