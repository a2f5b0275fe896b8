"""Units in headings and cells, in the writings laboratories use; one whose letters were lost is a question."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

_MASS = {
    "ug": ("ug", "µg", "μg", "mcg", "microgram", "micrograms", "microgramme", "microgrammes", "mikrogramm"),
    "mg": ("mg", "milligram", "milligrams", "milligrammes", "milligramm", "miligramos"),
    "ng": ("ng", "nanogram", "nanograms", "nanogrammes", "nanogramm"),
    "g": ("g", "gram", "grams"),
}  # fmt: skip
_PER_SAMPLE = (
    "", "/sample", "/tube", "/sampler", "/section", "/cartridge", "/filter", "/badge", "/probe", "/röhrchen", "/rohr",
    "/échantillon", "/echantillon", "/muestra", "/smp", "/smpl", "abs", "total", "/total", "/sorbent", "/unit",
)  # fmt: skip
_CUBIC = (
    "/m3",
    "/m³",
    "/m^3",
    "/cum",
    "/cu.m",
    "/cu.m.",
    "/cbm",
    "m-3",
    "m⁻³",
    ".m-3",
    "·m⁻³",
    "·m-3",
    "/metre³",
    "perm3",
)
_OTHERS: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "ppm": ("mole ratio", ("ppm", "ppmv", "ppm(v/v)", "ml/m3", "ml/m³", "cm3/m3", "cm³/m³")),
    "ppb": ("mole ratio", ("ppb", "ppbv")),
    "L": ("volume", ("l", "liter", "liters", "litre", "litres", "ltr", "lit", "dm3", "dm³", "litros")),
    "mL": ("volume", ("ml", "milliliter", "millilitre")),
    "m3": ("volume", ("m3", "m³", "cum", "cbm", "m^3")),
    "%": ("ratio", ("%", "percent", "pct", "prozent", "%rsd", "%rec", "%recovery")),
    "min": ("time", ("min", "mins", "minute", "minutes", "minuten")),
    "h": ("time", ("h", "hr", "hrs", "hours", "stunden")),
    "mL/min": ("flow", ("ml/min", "cc/min", "mlpm")),
    "L/min": ("flow", ("l/min", "lpm")),
    "°C": ("temperature", ("°c", "degc", "ºc")),
    "°F": ("temperature", ("°f", "degf")),
}


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: how the kernel spells it, and the kind of quantity it measures."""

    name: str
    kind: str


LOST = Unit("?", "lost letters")
"""A unit whose first letter the file lost on its way: µg and mg look the same then."""


def _writings() -> dict[str, Unit]:
    found: dict[str, Unit] = {}
    for name, words in _MASS.items():
        for word in words:
            for per in _PER_SAMPLE:
                found[word + per] = Unit(name, "mass")
                found[word + per.replace("/", "per")] = Unit(name, "mass")
            for cubic in _CUBIC:
                found[word + cubic] = Unit(f"{name}/m3", "concentration")
    for name, (kind, words) in _OTHERS.items():
        found.update({word: Unit(name, kind) for word in words})
    return found


_WRITINGS = _writings()
_LOST = re.compile(r"[?\ufffd¿□â]+g(/.*)?")


@lru_cache(maxsize=4096)
def known_unit(text: str) -> Unit | None:
    """Return the unit a text is, whole; `LOST` where its first letter was lost; None where it is none."""
    plain = text.strip().strip("()[]").casefold().replace(" ", "").replace("\u00a0", "").replace("μ", "µ")
    plain = plain.removeprefix("in").removeprefix("as") if plain[:2] in ("in", "as") else plain
    plain = plain.replace("âµ", "µ").replace("â³", "³")  # UTF-8 read as Windows-1252: the letter is still there
    for writing in (plain, plain.replace("µ", "μ")):
        if writing in _WRITINGS:
            return _WRITINGS[writing]
    if _LOST.fullmatch(plain):
        return LOST
    return None


_COVERAGE = re.compile(r"[(\[,;]?\s*k\s*=\s*[\d.,]+\s*[)\]]?", re.IGNORECASE)
_SNAKE_CUBIC = re.compile(r"\b([mµμun]g)[ .]m[3³]\b", re.IGNORECASE)
_BRACKETED = re.compile(r"[(\[]([^()\[\]]*(?:\([^()]*\))?[^()\[\]]*)[)\]]")


@lru_cache(maxsize=4096)
def heading_unit(heading: str) -> tuple[Unit | None, str]:
    """
    Find the unit in a heading: in brackets, after a comma or “in”, or as its last word.

    Returns
    -------
    tuple of Unit or None, and str
        The unit, and the heading without it.
    """
    text = _COVERAGE.sub("", " ".join(heading.replace("_", " ").split())).strip()
    text = _SNAKE_CUBIC.sub(r"\1/m3", text)
    for match in _BRACKETED.finditer(text):
        for part in (match[1], match[1].partition(",")[0], match[1].partition(";")[0], match[1].partition(" ")[0]):
            unit = known_unit(part)
            if unit is not None:
                return unit, " ".join(f"{text[: match.start()]} {text[match.end() :]}".split())
    for pattern in (r"(.*?)[,;:|]\s*(\S.*)", r"(.*?)\s+in\s+(\S.*)", r"(.*?)[\s_/]+(\S+)", r"(.*?)\s+(\S+\s\S+)"):
        match_ = re.fullmatch(pattern, text)
        while match_:
            unit = known_unit(match_[2])
            if unit is not None:
                return unit, match_[1].strip()
            later = re.fullmatch(pattern, match_[2])
            if later is None:
                break
            whole = text[: text.rfind(later[2])] if later[2] in text else match_[1]
            unit = known_unit(later[2])
            if unit is not None:
                return unit, whole.strip(" ,;:|")
            break
    unit = known_unit(text)
    return (unit, "") if unit is not None else (None, text)
