"""The public page of a lesson that gives nothing away yet: what it is, and for whom.

A new lesson has no stated rights, so nothing of it is free; its public page then names the
tune and the levels, and holds no note and no word of the notebook.
"""

from __future__ import annotations

from markupsafe import Markup

from kit.lesson.lesson import Lesson
from kit.publish._html_files import page_css, template
from kit.publish._wording import RIGHTS_REMINDER

__all__ = ["closed_page"]


def closed_page(lesson: Lesson) -> str:
    """Write the page.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    """
    settings = lesson.settings
    return template("closed-page.html.j2").render(
        language=settings.language,
        title=lesson.title,
        school=settings.school,
        byline=settings.composer if settings.composer != settings.school else "",
        summary=settings.summary,
        levels=settings.levels,
        imprint=[line for line in (settings.rights.statement, RIGHTS_REMINDER) if line],
        css=Markup(page_css()),  # noqa: S704 - our own files
    )
