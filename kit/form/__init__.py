"""Sections, what they are worth to a student, and how they look."""

from kit.form.chart import ChartTheme, form_chart_svg, form_chart_words
from kit.form.facts import FormFacts, form_facts
from kit.form.find import find_form, form_disagreement
from kit.form.names import form_name
from kit.form.ranges import form_from_ranges
from kit.form.search import found_form
from kit.form.sections import Form, Section

__all__ = [
    "ChartTheme",
    "Form",
    "FormFacts",
    "Section",
    "find_form",
    "form_chart_svg",
    "form_chart_words",
    "form_disagreement",
    "form_facts",
    "form_from_ranges",
    "form_name",
    "found_form",
]
