"""Widths and characters of the shipped fonts, held against the typesetter that reads the same files."""

import json
import unicodedata

import pytest
import typst
from hypothesis import given
from hypothesis import strategies as st

from lapel.pictures.lettering import FONTS, fitted, has_glyph, printable, text_width

TRADE = tuple("µμ³²≤≥±–−×σΣΦ⁻⁰√ᵢᵤ₀∞·…“”⟨⟩°")
SAMPLES = [
    "Toluene",
    "0.287 ± 0.044 mg/m³",
    "ΣQᵢ/n + r",
    "3.20×10⁻⁶ µg",
    "W-01 (S-01), 200 ppm (US-OSHA TWA)",
    "Größe, Łódź, Čech, 5 °C",
    "שלום",
]


@pytest.mark.parametrize("bold", [False, True])
def test_widths_are_those_the_typesetter_measures(bold):
    """Kerning is off: advance widths alone are compared."""
    source = (
        '#set text(font: ("Inter", "DejaVu Sans"), size: 100pt, kerning: false, ligatures: false, '
        f"weight: {600 if bold else 400})\n"
        '#context [#metadata(json("samples.json").map(words => measure(text(words)).width.pt())) <widths>]'
    )
    sources = {"main.typ": source.encode(), "samples.json": json.dumps(SAMPLES).encode()}
    found = typst.query(sources, "<widths>", field="value", one=True, font_paths=[str(FONTS)], ignore_system_fonts=True)
    for words, width in zip(SAMPLES, json.loads(found), strict=True):
        assert text_width(words, 100.0, bold=bold) == pytest.approx(width, rel=0.02), words


@pytest.mark.parametrize("character", TRADE)
def test_the_letters_of_the_trade_are_there(character):
    assert has_glyph(character)
    assert printable(character) == unicodedata.normalize("NFC", character)


def test_what_the_fonts_lack_is_named_not_dropped():
    assert printable("汉") == "⟨U+6C49⟩"
    assert printable("a\x00b") == "a⟨U+0000⟩b"
    assert printable("a\u202eb") == "a⟨U+202E⟩b"
    assert printable("\ud800") == "⟨U+D800⟩"
    assert printable("a\nb\tc") == "a b c"


@given(st.text(alphabet=st.characters(exclude_categories=[]), max_size=40))
def test_everything_printable_has_a_glyph_and_says_no_more_and_no_less(text):
    shown = printable(text)
    assert all(has_glyph(c) or c in "\u200b\u200c\u200d\u00a0" for c in shown)
    assert printable(shown) == shown


@given(st.text(max_size=60), st.floats(5.0, 300.0))
def test_a_shortened_text_fits_or_is_the_ellipsis_alone(text, width):
    short = fitted(printable(text), width, 7.0)
    assert text_width(short, 7.0) <= width or short == "…"
    assert short == printable(text) or short.endswith("…")
