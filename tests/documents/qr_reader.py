"""
A reader of small QR codes from pixels, written from ISO/IEC 18004 and not from what draws them.

Versions 1 to 13, capitals or bytes, in one mode. A code with a damaged finder or timing pattern is refused; nothing is
corrected, for a printed label must not need its error correction on the day it is made.
"""

from __future__ import annotations

import numpy as np

CAPITALS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
MASKS = (
    lambda r, c: (r + c) % 2 == 0,
    lambda r, c: r % 2 == 0,
    lambda r, c: c % 3 == 0,
    lambda r, c: (r + c) % 3 == 0,
    lambda r, c: (r // 2 + c // 3) % 2 == 0,
    lambda r, c: (r * c) % 2 + (r * c) % 3 == 0,
    lambda r, c: ((r * c) % 2 + (r * c) % 3) % 2 == 0,
    lambda r, c: ((r + c) % 2 + (r * c) % 3) % 2 == 0,
)
BLOCKS = {
    "L": {1: (1, 19), 2: (1, 34), 3: (1, 55), 4: (1, 80), 5: (1, 108), 6: (2, 68), 7: (2, 78), 8: (2, 97), 9: (2, 116),
          10: (2, 68, 2, 69), 11: (4, 81), 12: (2, 92, 2, 93), 13: (4, 107)},
    "M": {1: (1, 16), 2: (1, 28), 3: (1, 44), 4: (2, 32), 5: (2, 43), 6: (4, 27), 7: (4, 31), 8: (2, 38, 2, 39),
          9: (3, 36, 2, 37), 10: (4, 43, 1, 44), 11: (1, 50, 4, 51), 12: (6, 36, 2, 37), 13: (8, 37, 1, 38)},
    "Q": {1: (1, 13), 2: (1, 22), 3: (2, 17), 4: (2, 24), 5: (2, 15, 2, 16), 6: (4, 19), 7: (2, 14, 4, 15),
          8: (4, 18, 2, 19), 9: (4, 16, 4, 17), 10: (6, 19, 2, 20), 11: (4, 22, 4, 23), 12: (4, 20, 6, 21),
          13: (8, 20, 4, 21)},
    "H": {1: (1, 9), 2: (1, 16), 3: (2, 13), 4: (4, 9), 5: (2, 11, 2, 12), 6: (4, 15), 7: (4, 13, 1, 14),
          8: (4, 14, 2, 15), 9: (4, 12, 4, 13), 10: (6, 15, 2, 16), 11: (3, 12, 8, 13), 12: (7, 14, 4, 15),
          13: (12, 11, 4, 12)},
}  # fmt: skip
"""Blocks and data codewords in each, by level and version: table 9 of the standard."""
LEVELS = {0b01: "L", 0b00: "M", 0b11: "Q", 0b10: "H"}
ALIGNED = {2: (6, 18), 3: (6, 22), 4: (6, 26), 5: (6, 30), 6: (6, 34), 7: (6, 22, 38), 8: (6, 24, 42), 9: (6, 26, 46),
           10: (6, 28, 50), 11: (6, 30, 54), 12: (6, 32, 58), 13: (6, 34, 62)}  # fmt: skip
"""Rows and columns of the middles of alignment patterns, by version: annex E of the standard."""


def read_qr(pixels: np.ndarray) -> tuple[str, float]:
    """Text of the one code in a grey picture, and how many modules of white stand around it at the least."""
    dark = pixels < 128
    rows, columns = np.flatnonzero(dark.any(axis=1)), np.flatnonzero(dark.any(axis=0))
    top, bottom, left, right = rows[0], rows[-1] + 1, columns[0], columns[-1] + 1
    edge = dark[top + 1, left:right]
    module = int(np.argmin(edge)) / 7.0  # the finder pattern's upper side is seven modules long
    size = round((right - left) / module)
    pitch = (right - left) / size
    assert abs((bottom - top) - (right - left)) <= 2, "the code is not square"
    centres = np.floor((np.arange(size) + 0.5) * pitch).astype(int)
    modules = dark[np.ix_(top + centres, left + centres)]
    quiet = min(top, left, pixels.shape[0] - bottom, pixels.shape[1] - right) / pitch
    return _text(modules), quiet


def _text(modules: np.ndarray) -> str:
    size = len(modules)
    version = (size - 17) // 4
    assert (size - 17) % 4 == 0, f"{size} modules is no QR code"
    assert 1 <= version <= 13, f"version {version} is not read here"
    finder = np.zeros((7, 7), dtype=bool)
    finder[[0, 6], :] = finder[:, [0, 6]] = True
    finder[2:5, 2:5] = True
    for corner in (modules[:7, :7], modules[:7, -7:], modules[-7:, :7]):
        assert (corner == finder).all(), "a finder pattern is damaged"
    assert (modules[6, 8:-8] == (np.arange(8, size - 8) % 2 == 0)).all(), "the timing pattern is damaged"
    cells = [(8, c) for c in (0, 1, 2, 3, 4, 5, 7, 8)] + [(r, 8) for r in (7, 5, 4, 3, 2, 1, 0)]
    written = int("".join(str(int(modules[r, c])) for r, c in cells), 2) ^ 0b101010000010010
    mask = MASKS[written >> 10 & 0b111]
    raw = "".join(str(int(bool(modules[r, c]) != mask(r, c))) for r, c in _data_cells(size, version))
    bits = _in_order(raw, BLOCKS[LEVELS[written >> 13]][version])
    mode, wide = int(bits[:4], 2), version > 9
    if mode == 0b0010:
        at, letters = (15 if wide else 13), ""
        count = int(bits[4:at], 2)
        while len(letters) < count:
            if count - len(letters) > 1:
                pair = int(bits[at : at + 11], 2)
                letters, at = letters + CAPITALS[pair // 45] + CAPITALS[pair % 45], at + 11
            else:
                letters, at = letters + CAPITALS[int(bits[at : at + 6], 2)], at + 6
        return letters
    assert mode == 0b0100, f"mode {mode:04b} is not read here"
    at = 20 if wide else 12
    count = int(bits[4:at], 2)
    return bytes(int(bits[at + 8 * i : at + 8 + 8 * i], 2) for i in range(count)).decode("utf-8")


def _in_order(raw: str, blocks: tuple[int, ...]) -> str:
    """Data codewords, dealt out to the blocks one by one, put together block after block."""
    sizes = [size for count, size in zip(blocks[::2], blocks[1::2], strict=True) for _ in range(count)]
    dealt: list[list[str]] = [[] for _ in sizes]
    places = [block for place in range(max(sizes)) for block, size in enumerate(sizes) if place < size]
    for number, block in enumerate(places):
        dealt[block].append(raw[8 * number : 8 * number + 8])
    return "".join(word for block in dealt for word in block)


def _data_cells(size: int, version: int) -> list[tuple[int, int]]:
    """Cells of the data in the order they are filled: two columns at a time, from the right, up and down by turns."""

    middles = ALIGNED.get(version, ())
    corners = {(6, 6), (6, size - 7), (size - 7, 6)}
    aligned = [(row, column) for row in middles for column in middles if (row, column) not in corners]

    def is_function(r: int, c: int) -> bool:
        corner = (r < 9 and c < 9) or (r < 9 and c >= size - 8) or (r >= size - 8 and c < 9)
        edition = version > 6 and ((r < 6 and c >= size - 11) or (c < 6 and r >= size - 11))
        alignment = any(abs(r - row) <= 2 and abs(c - column) <= 2 for row, column in aligned)
        return corner or edition or alignment or r == 6 or c == 6

    cells, upwards = [], True
    for right in [c for c in range(size - 1, 0, -2) if c > 6] + [5, 3, 1]:
        for r in range(size - 1, -1, -1) if upwards else range(size):
            cells += [(r, c) for c in (right, right - 1) if not is_function(r, c)]
        upwards = not upwards
    return cells
