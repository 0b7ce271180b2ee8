"""Which bars of the form are played ahead of the head?

Source: common practice.
"""

from __future__ import annotations

from kit.form.sections import Form, Section

__all__ = ["INTROS", "intro_places"]

INTROS = ("last-four-bars", "turnaround", "vamp")


def intro_places(form: Form, intro: str) -> list[tuple[Section, int]]:
    """Give the bars of an intro, each with its section.

    Parameters
    ----------
    form : Form
        Whose bars they are.
    intro : str
        One of `INTROS`.
    """
    places = [
        (section, index)
        for section in form.sections
        for index in range(section.first, section.last + 1)
    ]
    return {
        "last-four-bars": places[-4:],
        "turnaround": places[-2:] * 2,
        "vamp": places[:2] * 2,
    }[intro]
