"""The design holds what it promises: contrast in every theme, one place for colours and sizes, and nothing fetched."""

import hashlib
import re
from pathlib import Path

import pytest

import lapel.office
from lapel.office.templatetags.office import TONES, chip, codes, tone_of

OFFICE = Path(lapel.office.__file__).parent
STATIC = OFFICE / "static" / "office"
TOKENS = (STATIC / "tokens.css").read_text(encoding="utf-8")
TEMPLATES = sorted((OFFICE / "templates").rglob("*.html"))

WORDS = [
    ("ink", "paper"),
    ("ink", "sheet"),
    ("ink-soft", "paper"),
    ("ink-soft", "sheet"),
    ("ink-soft", "plain-ground"),
    ("accent", "paper"),
    ("accent", "sheet"),
    ("on-accent", "accent"),
    ("ink", "plain-ground"),
    *((tone, f"{tone}-ground") for tone in ("good", "care", "stop", "plain")),
]
"""Pairs that carry words: at least 4.5 to 1 (WCAG 2.2, 1.4.3), outdoors 7 to 1 (1.4.6)."""

EDGES = [
    ("line-strong", "sheet"),
    ("line-strong", "paper"),
    ("focus", "paper"),
    ("focus", "sheet"),
    ("accent", "paper"),
]
"""Edges of controls, and the focus ring: at least 3 to 1 (WCAG 2.2, 1.4.11)."""


def colours(selector: str) -> dict[str, str]:
    """The colour tokens the blocks of a selector set."""
    blocks = re.findall(r"(?:^|[\s}])" + re.escape(selector) + r"\s*\{([^}]*)\}", TOKENS)
    return dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", "".join(blocks)))


THEMES = {
    "light": colours(":root"),
    "dark": colours(':root[data-theme="dark"]'),
    "outdoor": colours(':root[data-theme="outdoor"]'),
}


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition)."""
    parts = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2, definition)."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_is_worked_out_as_the_guidelines_define_it():
    assert contrast("#ffffff", "#000000") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.478, abs=0.001)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("front", "ground"), WORDS)
def test_words_stand_out_from_their_ground(theme, front, ground):
    least = 7 if theme == "outdoor" else 4.5
    assert contrast(THEMES[theme][front], THEMES[theme][ground]) >= least


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("edge", "ground"), EDGES)
def test_edges_of_controls_and_the_focus_ring_can_be_seen(theme, edge, ground):
    assert contrast(THEMES[theme][edge], THEMES[theme][ground]) >= 3


def test_every_theme_sets_the_same_colours():
    assert len({frozenset(theme) for theme in THEMES.values()}) == 1


def test_dark_by_the_device_and_dark_by_choice_are_the_same():
    assert colours(':root[data-theme="device"]') == THEMES["dark"]


@pytest.mark.parametrize("sheet", sorted(STATIC.glob("*.css")), ids=lambda path: path.name)
def test_colours_stand_in_the_tokens_only(sheet):
    if sheet.name in ("tokens.css", "print.css", "charts.css"):
        pytest.skip("the tokens themselves; paper is black on white; charts have the palette of lapel.pictures")
    text = re.sub(r"/\*.*?\*/", "", sheet.read_text(encoding="utf-8"), flags=re.DOTALL)
    found = set(re.findall(r"#[0-9a-fA-F]{3,8}\b|rgba?\(|hsla?\(", text))
    assert found <= {"#000", "#ffffff"}, "a QR code's ground and the outdoor chip's edge are the only fixed ones"


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.relative_to(OFFICE / "templates").as_posix())
def test_a_template_has_no_style_or_script_of_its_own(template):
    text = template.read_text(encoding="utf-8")
    without_tags = re.sub(r"\{[%{].*?[%}]\}", "", text, flags=re.DOTALL)
    assert re.findall(r"<[a-z][^<>]*\s(?:style|on[a-z]+)\s*=[^<>]*>|<style|javascript:", without_tags) == []
    assert re.findall(r"<script(?![^>]*\bsrc=)", text) == []
    assert re.findall(r"(?:src|href|action)=[\"']?(?:https?:)?//", text) == [], "nothing from other servers"
    assert "|safe" not in text or template.name == "field.html", "only the help texts of our own forms"


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.relative_to(OFFICE / "templates").as_posix())
def test_every_form_that_posts_carries_its_mark(template):
    text = template.read_text(encoding="utf-8")
    for form in re.findall(r"<form[^>]*method=\"post\".*?</form>", text, re.DOTALL):
        assert "{% csrf_token %}" in form


def test_the_font_is_the_published_one_with_its_licence():
    """Inter 4.1.1, the publisher's Latin subset, under the SIL Open Font License 1.1."""
    digest = hashlib.sha256((STATIC / "fonts" / "inter-latin.woff2").read_bytes()).hexdigest()
    assert digest == "6729dfb89cf8331936bba17c452d74207b5850c96d550e5ad8351db4aa97b287"
    assert "SIL Open Font License" in (STATIC / "fonts" / "OFL.txt").read_text(encoding="utf-8")


def test_a_chip_has_a_shape_for_each_tone():
    parts = (STATIC / "parts.css").read_text(encoding="utf-8")
    for tone in ("care", "stop", "plain", "mark"):
        assert f".chip.{tone}::before" in parts
    assert set(TONES) == {"good", "care", "stop", "mark"}


@pytest.mark.parametrize(
    ("words", "tone"),
    [
        ("sound", "good"),
        ("under", "good"),
        ("qualified: at least", "care"),
        ("cannot tell", "care"),
        ("void", "stop"),
        ("over", "stop"),
        ("anything else", "plain"),
    ],
)
def test_the_tone_of_a_chip_follows_from_its_words(words, tone):
    assert tone_of(words) == tone


def test_what_a_chip_says_is_text():
    assert chip("<b>void</b>") == '<span class="chip plain">&lt;b&gt;void&lt;/b&gt;</span>'


@pytest.mark.parametrize("words", ["under", "over", "cannot tell", "qualified: at least"])
def test_a_verdict_has_the_shape_of_the_pictures(words):
    """Else a full triangle would be “over” in the picture and something else in the table below it."""
    (shape,) = re.findall(r'class="chip \w+ ([\w-]+)"', chip(words))
    assert f".chip.{shape}::before" in (STATIC / "parts.css").read_text(encoding="utf-8")


def test_codes_in_a_list_are_not_broken_and_escaped():
    assert codes(["W-01", "<b>"]) == (
        '<span class="never-wraps">W-01</span>, <span class="never-wraps">&lt;b&gt;</span>'
    )
