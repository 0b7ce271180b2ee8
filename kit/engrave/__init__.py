"""Engraving: written parts as SVG, whole or line by line, and in words."""

from kit.engrave.drawing import Drawing, engrave_excerpt, engrave_lines
from kit.engrave.engraver import PAPER, PHONE, SCREEN, Page
from kit.engrave.words import chord_in_words, describe_bars

__all__ = [
    "PAPER",
    "PHONE",
    "SCREEN",
    "Drawing",
    "Page",
    "chord_in_words",
    "describe_bars",
    "engrave_excerpt",
    "engrave_lines",
]
