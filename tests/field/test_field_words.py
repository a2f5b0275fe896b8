"""The words of the field page: one catalogue, nothing missing from it and nothing in it that no screen says."""

import re
from pathlib import Path

import lapel.field

SCREENS = Path(lapel.field.__file__).parent / "static" / "field" / "screens"
SAID_BY_PATTERN = (
    "check.",
    "hold.",
    "kit.",
    "log.",
    "part.",
    "stage.",
    "step.",
    "stop.next-",
    "tab.",
    "theme.",
    "trouble.",
)
"""Beginnings of keys that screens put together, as in say(`stage.${train.stage}`)."""


def catalogue():
    text = (SCREENS / "words" / "en.js").read_text(encoding="utf-8")
    return set(re.findall(r"^  '?([\w.-][\w .-]*?)'?:\s", text, re.MULTILINE))


def sources():
    return {path.name: path.read_text(encoding="utf-8") for path in SCREENS.glob("*.js")}


def test_every_key_a_screen_says_is_in_the_catalogue():
    said = set()
    for text in sources().values():
        for call in re.finditer(r"\bsay\(\s*('[^']+'|[^,()'`]+\?\s*'[^']+'\s*:\s*'[^']+')", text):
            said |= set(re.findall(r"'([^']+)'", call[1]))
    said.discard("setting")  # a phase held against, not a key
    assert len(said) > 300
    assert said - catalogue() == set()


def test_every_phrase_of_the_catalogue_is_said_somewhere():
    everything = "\n".join(sources().values())
    unsaid = [
        key for key in catalogue() if f"'{key}'" not in everything and not key.startswith(SAID_BY_PATTERN)
    ]  # fmt: skip
    assert unsaid == []


def test_the_keys_put_together_from_stages_and_troubles_are_all_there():
    types = (SCREENS.parent / "types.d.ts").read_text(encoding="utf-8")
    stages = re.findall(r"\| '([^']+)'", re.search(r"export type Stage =(.*?);", types, re.DOTALL)[1])
    troubles = re.findall(r"'([^']+)'", re.search(r"TROUBLES = .*?\((\[.*?\])\)", sources()["trouble.js"])[1])
    assert len(stages) == 10
    assert len(troubles) == 5
    wanted = {f"stage.{stage}" for stage in stages} | {f"trouble.{kind}" for kind in troubles}
    assert wanted - catalogue() == set()


def test_no_screen_writes_words_of_its_own_into_a_button():
    for name, text in sources().items():
        assert not re.search(r"\bbutton\('[A-Za-z]", text), name
        assert not re.search(r"\bmessage\('\w+', '[A-Z]", text), name


def test_no_markup_carries_a_style_or_a_handler_of_its_own():
    """The page's policy allows neither."""
    for name, text in sources().items():
        assert "innerHTML" not in text, name
        assert not re.search(r"\bstyle:", text), name
