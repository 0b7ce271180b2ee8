"""Made by tests/widgets/stub_of_kit.py; not to be changed by hand."""

from kit.lesson.lesson import Lesson as Lesson
from kit.lesson.lesson import open_lesson as open_lesson
from kit.tune.music21.bridge import from_music21 as from_music21
from kit.tune.music21.bridge import to_music21 as to_music21
from kit.widgets.desk.builder import builder as builder
from kit.widgets.desk.new_lesson import new_lesson as new_lesson
from kit.widgets.desk.preview import preview as preview
from kit.widgets.desk.proposed_changes import proposed_changes as proposed_changes
from kit.widgets.desk.rights_summary import rights_summary as rights_summary
from kit.widgets.desk.school import school as school
from kit.widgets.editors.bench import bench as bench
from kit.widgets.editors.changes_editor import changes_editor as changes_editor
from kit.widgets.editors.form_editor import form_editor as form_editor
from kit.widgets.editors.route_editor import route_editor as route_editor
from kit.widgets.figures._figure_view import FigureView
from kit.widgets.figures._player import PlayerView
from kit.widgets.figures._views import ExcerptView, FormChartView, ProblemsView

__all__ = [
    "Lesson",
    "__version__",
    "bench",
    "builder",
    "changes_editor",
    "comparison",
    "excerpt",
    "form_chart",
    "form_editor",
    "from_music21",
    "new_lesson",
    "open_lesson",
    "part_range",
    "player",
    "practice_plan",
    "preview",
    "problems",
    "proposed_changes",
    "rights_summary",
    "route_editor",
    "school",
    "solo_guide",
    "to_music21",
]

__version__: str

def form_chart(
    lesson: Lesson,
    instrument: str | None = None,
) -> FormChartView:
    """How is the form shown: chart, and what a student should know of it?

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    instrument : str, optional
        Short name, ``alto-sax``; the one chosen in other figures if left out.
    """

def excerpt(
    lesson: Lesson,
    level: str | None = None,
    instrument: str | None = None,
    section: str | None = None,
    key: str | None = None,
    *,
    bars: tuple[int, int] | None = None,
    size: str | None = None,
) -> ExcerptView:
    """Some bars of a level as an instrument reads them.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level : str, optional
        A level by name; if left out the first (of problems all), and on a page the reader's.
    instrument : str, optional
        Short name, ``alto-sax``; the one chosen in other figures if left out.
    section : str, optional
        ``A`` for the first A, ``A2`` for the second, ``head``, ``solo``; else all.
    key : str, optional
        Another concert key to practise in, such as ``F minor``.
    bars : tuple[int, int], optional
        First and last printed bar number, instead of a section.
    size : str, optional
        ``small``, ``normal`` or ``large``.
    """

def player(
    lesson: Lesson,
    level: str | None = None,
    mix: str | None = None,
) -> PlayerView:
    """What is there to hear of a level: which mix, what is played, how fast and how long?

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level : str, optional
        A level by name; if left out the first (of problems all), and on a page the reader's.
    mix : str, optional
        ``demo``, ``backing`` or ``melody``.
    """

def comparison(
    lesson: Lesson,
    lower: str | None = None,
    upper: str | None = None,
    instrument: str | None = None,
) -> FigureView:
    """What is different from one level to another, in words, numbers and a line of music?

    Bars with the same differences are told once, so that a change to every A section reads as
    one change. The differences are found by `kit.levels.compare`.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    lower : str, optional
        Level to start from; the first if left out.
    upper : str, optional
        Level to compare with it; the second if left out.
    instrument : str, optional
        Short name, ``alto-sax``; the one chosen in other figures if left out.
    """

def solo_guide(
    lesson: Lesson,
    level: str | None = None,
    instrument: str | None = None,
) -> FigureView:
    """What may a student play in a solo: scale, phrases, guide tones, in their own key?

    The advice comes from `kit.solo`; here it is put in the order in which it is used: one scale
    for a section first, then phrases, then the guide tones, then the chords one by one.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level : str, optional
        A level by name; if left out the first (of problems all), and on a page the reader's.
    instrument : str, optional
        Short name, ``alto-sax``; the one chosen in other figures if left out.
    """

def practice_plan(
    lesson: Lesson,
    level: str | None = None,
    instrument: str | None = None,
) -> FigureView:
    """In which steps is a level practised?

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level : str, optional
        A level by name; if left out the first (of problems all), and on a page the reader's.
    instrument : str, optional
        Short name, ``alto-sax``; the one chosen in other figures if left out.
    """

def part_range(
    lesson: Lesson,
    level: str | None = None,
    instrument: str | None = None,
) -> FigureView:
    """What does a part ask of its instrument: from where to where, and what lies beyond?

    The lowest and the highest written note stand against what lies well at the level and what
    the instrument has; each note beyond is named with its bars. Grace notes count as notes. A
    part that lies in another octave than usual, all of it or some notes, says why.

    Sources: the ranges of `kit/instruments/instruments.toml`, where theirs stand, or a lesson's
    own rows.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level : str, optional
        A level by name; if left out the first (of problems all), and on a page the reader's.
    instrument : str, optional
        Short name, ``alto-sax``; the one chosen in other figures if left out.
    """

def problems(
    lesson: Lesson,
    level: str | None = None,
) -> ProblemsView:
    """What is there to mend or to look at in a lesson, with the bars that are meant?

    For the teacher, in the notebook: it never reaches a page or a handout.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level : str, optional
        A level by name; if left out the first (of problems all), and on a page the reader's.
    """
