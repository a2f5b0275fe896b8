"""How hard a text is to read, by the formulas of the trade of writing."""

from __future__ import annotations

import re

_VOWELS = {"en": "aeiouy", "es": "aeiouáéíóúü"}


def sentences(text: str) -> list[str]:
    return [part for part in re.split(r"(?<=[.!?:])\s+", text.strip()) if re.search(r"\w", part)]


def words(text: str) -> list[str]:
    return re.findall(r"[^\W\d_]+(?:['’-][^\W\d_]+)*", text)


def syllables(word: str, language: str) -> int:
    """Groups of vowels; in English without a silent e at the end."""
    low = word.lower()
    groups = len(re.findall(f"[{_VOWELS[language]}]+", low))
    if language == "en" and low.endswith("e") and not low.endswith(("le", "ee")) and groups > 1:
        groups -= 1
    return max(1, groups)


def grade(text: str) -> float:
    """Years of school an English text asks for (Kincaid et al. 1975, Research Branch Report 8-75)."""
    said = words(text)
    per_sentence = len(said) / len(sentences(text))
    return 0.39 * per_sentence + 11.8 * sum(syllables(word, "en") for word in said) / len(said) - 15.59


def ease_in_spanish(text: str) -> float:
    """Ease of a Spanish text, 0 to 100 (Fernández Huerta 1959): 60 to 70 is ordinary, above 70 fairly easy."""
    said = words(text)
    per_100 = 100.0 * sum(syllables(word, "es") for word in said) / len(said)
    return 206.84 - 0.60 * per_100 - 1.02 * len(said) / len(sentences(text))
