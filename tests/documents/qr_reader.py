"""
A reader of small QR codes from pixels, written from ISO/IEC 18004 and not from what draws them.

Versions 1 to 3 with one block of data, numbers, capitals or bytes; a code with any damaged module is refused, for a
printed label must not need its error correction on the day it is made.
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
    assert 1 <= version <= 3, f"version {version} is not read here"
    finder = np.zeros((7, 7), dtype=bool)
    finder[[0, 6], :] = finder[:, [0, 6]] = True
    finder[2:5, 2:5] = True
    for corner in (modules[:7, :7], modules[:7, -7:], modules[-7:, :7]):
        assert (corner == finder).all(), "a finder pattern is damaged"
    assert (modules[6, 8:-8] == (np.arange(8, size - 8) % 2 == 0)).all(), "the timing pattern is damaged"
    cells = [(8, c) for c in (0, 1, 2, 3, 4, 5, 7, 8)] + [(r, 8) for r in (7, 5, 4, 3, 2, 1, 0)]
    written = int("".join(str(int(modules[r, c])) for r, c in cells), 2) ^ 0b101010000010010
    mask = MASKS[written >> 10 & 0b111]
    bits = "".join(str(int(bool(modules[r, c]) != mask(r, c))) for r, c in _data_cells(size, version))
    mode = int(bits[:4], 2)
    if mode == 0b0010:
        count, at, letters = int(bits[4:13], 2), 13, ""
        while len(letters) < count:
            if count - len(letters) > 1:
                pair = int(bits[at : at + 11], 2)
                letters, at = letters + CAPITALS[pair // 45] + CAPITALS[pair % 45], at + 11
            else:
                letters, at = letters + CAPITALS[int(bits[at : at + 6], 2)], at + 6
        return letters
    assert mode == 0b0100, f"mode {mode:04b} is not read here"
    count = int(bits[4:12], 2)
    return bytes(int(bits[12 + 8 * i : 20 + 8 * i], 2) for i in range(count)).decode("utf-8")


def _data_cells(size: int, version: int) -> list[tuple[int, int]]:
    """Cells of the data in the order they are filled: two columns at a time, from the right, up and down by turns."""

    def is_function(r: int, c: int) -> bool:
        corner = (r < 9 and c < 9) or (r < 9 and c >= size - 8) or (r >= size - 8 and c < 9)
        alignment = version > 1 and abs(r - (size - 7)) <= 2 and abs(c - (size - 7)) <= 2
        return corner or alignment or r == 6 or c == 6

    cells, upwards = [], True
    for right in [c for c in range(size - 1, 0, -2) if c > 6] + [5, 3, 1]:
        for r in range(size - 1, -1, -1) if upwards else range(size):
            cells += [(r, c) for c in (right, right - 1) if not is_function(r, c)]
        upwards = not upwards
    return cells
