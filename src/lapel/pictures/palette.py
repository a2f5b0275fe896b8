"""
The colours, by what they mean: told apart by people who see colours differently, and in grey.

Hues follow the set of Okabe and Ito (2008), darkened until text in them reaches a contrast of 4.5 to 1 on white. No
meaning rests on colour alone: every mark also differs in shape, filling or words.
"""

from __future__ import annotations

COLOURS = {
    "paper": "#ffffff",
    "ink": "#1c2328",
    "muted": "#5a656d",
    "line": "#9aa5ac",
    "hair": "#d4dadd",
    "tint": "#eef1f3",
    "accent": "#1f4f66",
    "accent-soft": "#a9c2ce",
    "over": "#a13a00",
    "over-soft": "#f3d9c8",
    "open": "#6a5600",
    "open-soft": "#f4ecc9",
    "under": "#00568c",
    "under-soft": "#d7e6f0",
}
"""Colour of each meaning on white paper, and on a page whose style sheet names no other."""
