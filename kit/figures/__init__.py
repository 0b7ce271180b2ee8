"""The figures of a lesson: each as a fragment of HTML and as words."""

from kit.figures.comparison import comparison
from kit.figures.excerpt import excerpt
from kit.figures.excerpt_file import excerpt_musicxml
from kit.figures.figure import FIGURE_MIME, KINDS, Figure, figure_css
from kit.figures.form_chart import form_chart
from kit.figures.player import MIX_WORDS, player
from kit.figures.practice_plan import practice_plan
from kit.figures.problems import problems
from kit.figures.route_words import route_words
from kit.figures.solo_guide import solo_guide
from kit.lesson.choices import Stretch, printed_section, section_names, stretches
from kit.lesson.keys import practice_key, practice_keys

__all__ = [
    "FIGURE_MIME",
    "KINDS",
    "MIX_WORDS",
    "Figure",
    "Stretch",
    "comparison",
    "excerpt",
    "excerpt_musicxml",
    "figure_css",
    "form_chart",
    "player",
    "practice_key",
    "practice_keys",
    "practice_plan",
    "printed_section",
    "problems",
    "route_words",
    "section_names",
    "solo_guide",
    "stretches",
]
