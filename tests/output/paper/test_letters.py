import pytest

from cutjob.output.paper.letters import fitted, missing, width_of, wrapped, written

SENTENCES = ["Grüße vom Steg", "Жук и ёж", "Ωμέγα", "Łódź, Đà Nẵng", "½ × ø 8 mm", "שלום"]


@pytest.mark.parametrize("text", SENTENCES)
def test_letters_of_many_scripts_are_written_as_they_are(text):
    assert missing([text]) == ()
    assert written(text) == text


def test_what_has_no_letter_is_written_by_its_number():
    assert written("shelf 棚") == "shelf [U+68DA]"
    assert missing(["shelf 棚", "棚子"]) == ("棚", "子")
    assert written("a\u0000b") == "a[U+0000]b"


def test_accents_written_apart_are_put_together():
    assert written("Gru\u0308n") == "Grün"


def test_widths_grow_with_the_size():
    assert width_of("porch", size=6.0) == pytest.approx(2 * width_of("porch", size=3.0))


def test_fitted_never_wider_than_asked():
    text = "a name so long that no label could hold it"
    for width in (5.0, 20.0, 50.0):
        shown = fitted(text, size=3.0, width=width)
        assert shown.endswith("…")
        assert width_of(shown, size=3.0) <= width
    assert fitted(text, size=3.0, width=500.0) == text


def test_wrapped_loses_no_letter():
    text = "Print at 100 % and measure Rindfleischetikettierungsgesetz twice"
    lines = wrapped(text, size=3.0, width=20.0)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert max(width_of(line, size=3.0) for line in lines) <= 20.0
