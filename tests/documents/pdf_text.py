"""Read a PDF back: its texts through the fonts' ToUnicode maps, and the marks of its standards."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pikepdf

HEX = re.compile(r"<([0-9A-Fa-f]+)>")


def page_texts(path: Path) -> list[str]:
    """Text of every page in the order it is drawn, without any white space and without marks that break words."""
    with pikepdf.open(path) as pdf:
        return [_squeezed(_drawn(page.obj, page.obj.get("/Resources"))) for page in pdf.pages]


def whole_text(path: Path) -> str:
    """Text of the whole document, squeezed."""
    return "".join(page_texts(path))


def squeezed(text: str) -> str:
    """A text as it is looked for in `page_texts`."""
    return _squeezed(text)


def _squeezed(text: str) -> str:
    return re.sub(r"[\s\u200b\u00ad]+", "", text)


def _drawn(stream: Any, resources: Any) -> str:
    maps: dict[str, dict[bytes, str]] = {}
    found: list[str] = []
    current: dict[bytes, str] = {}
    replaced = 0
    marked: list[bool] = []
    for operands, operator in pikepdf.parse_content_stream(stream):
        name = str(operator)
        if name == "Tf":
            key = str(operands[0])
            if key not in maps:
                maps[key] = _to_unicode(resources["/Font"][key])
            current = maps[key]
        elif name in ("BDC", "BMC"):
            actual = operands[1].get("/ActualText") if name == "BDC" and hasattr(operands[1], "get") else None
            if actual is not None:
                found.append(str(actual))
                replaced += 1
            marked.append(actual is not None)
        elif name == "EMC":
            replaced -= marked.pop()
        elif name in ("Tj", "TJ") and not replaced:
            parts = operands[0] if name == "TJ" else [operands[0]]
            found += [_decoded(bytes(part), current) for part in parts if isinstance(part, pikepdf.String)]
        elif name == "Do":
            form = resources["/XObject"][str(operands[0])]
            if form.get("/Subtype") == "/Form":
                found.append(_drawn(form, form.get("/Resources")))
    return "".join(found)


def _decoded(codes: bytes, characters: dict[bytes, str]) -> str:
    return "".join(characters.get(codes[at : at + 2], "") for at in range(0, len(codes), 2))


def _to_unicode(font: Any) -> dict[bytes, str]:
    """Characters of a font's two-byte codes (ISO 32000-1, 9.10.3)."""
    source = font["/ToUnicode"].read_bytes().decode("latin-1")
    found: dict[bytes, str] = {}
    for block in re.findall(r"beginbfchar(.*?)endbfchar", source, re.DOTALL):
        codes = HEX.findall(block)
        for code, text in zip(codes[::2], codes[1::2], strict=True):
            found[bytes.fromhex(code)] = bytes.fromhex(text).decode("utf-16-be", "replace")
    for block in re.findall(r"beginbfrange(.*?)endbfrange", source, re.DOTALL):
        codes = HEX.findall(block)
        for first, last, text in zip(codes[::3], codes[1::3], codes[2::3], strict=True):
            start = int.from_bytes(bytes.fromhex(text), "big")
            for offset in range(int(last, 16) - int(first, 16) + 1):
                found[(int(first, 16) + offset).to_bytes(2, "big")] = chr(start + offset)
    return found


def fonts_of(pdf: pikepdf.Pdf) -> list[Any]:
    """Every font object of a document that has a descriptor."""
    return [
        item for item in pdf.objects if isinstance(item, pikepdf.Dictionary) and item.get("/Type") == "/FontDescriptor"
    ]
