"""One level of a lesson: its sheet, its form and what is played.

The *sheet* is everything a player has on the stand at this level: the head as written and,
behind a double bar, the written solo. Its bars are numbered through, so that "bar 41" means
one place only; `Level.solo` says where the solo begins.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from kit.errors import LevelError
from kit.form.sections import Form
from kit.lesson.settings import LevelSettings
from kit.route.plan import Route, plan_route
from kit.tune.model import Bar, Tune, Word
from kit.tune.unfold import playing_order

__all__ = ["Level", "after_silence", "make_level"]


@dataclass(frozen=True, slots=True)
class Level:
    """A level, computed.

    Parameters
    ----------
    settings : LevelSettings
        What lesson.toml says of it.
    sheet : Tune
        Head and written solo at concert pitch, repeats as written.
    order : tuple of int
        The head's bars as played once through, as indices of the sheet.
    form : Form
        Sections, as places in `order`.
    route : Route
        Everything performed.
    solo : (int, int) or None
        First sheet index and number of bars of the written solo.
    """

    settings: LevelSettings
    sheet: Tune
    order: tuple[int, ...]
    form: Form
    route: Route
    solo: tuple[int, int] | None = None

    @property
    def name(self) -> str:
        """The level's name, as in file names."""
        return self.settings.name

    @property
    def tempo_qpm(self) -> float:
        """Quarter notes a minute (`LevelSettings.tempo` counts felt beats)."""
        # A jig at 116 is meant in dotted quarters; the clock counts plain ones.
        return self.settings.tempo * float(self.sheet.meter.pulse)

    @property
    def seconds(self) -> float:
        """Playing time without the count-in."""
        return self.route.seconds(self.tempo_qpm)

    @property
    def count_in_s(self) -> float:
        """Seconds until the music begins: the file's first moment and the count-in."""
        return self.route.second_at(self.route.music_start, self.tempo_qpm)

    @property
    def head(self) -> Tune:
        """The head alone, repeats as written."""
        if self.solo is None:
            return self.sheet
        return replace(self.sheet, bars=self.sheet.bars[: self.solo[0]])

    @property
    def played(self) -> Tune:
        """The head once through, repeats written out."""
        return replace(self.sheet, bars=tuple(self.sheet.bars[i] for i in self.order))


def make_level(
    settings: LevelSettings, *, head: Tune, form: Form, solo: Tune | None = None
) -> Level:
    """Put a level together.

    Parameters
    ----------
    settings : LevelSettings
        Tempo, feel and route.
    head : Tune
        The level's melody with its changes.
    form : Form
        Sections of the unfolded head.
    solo : Tune, optional
        A written solo. Where it has no changes of its own it takes the head's.

    Raises
    ------
    LevelError
        If the head has not as many bars as the form, once unfolded, or a feel is chosen
        for a section that the form has not.
    RouteError
        As `kit.route.plan.plan_route`.
    """
    _check_feels(settings, form)
    order = playing_order(head)
    last = form.sections[-1].last
    # Levels are compared bar by bar and share the form, so that none may be longer.
    if len(order) != last + 1:
        raise LevelError(
            f"the melody of this level has {len(order)} bars once its repeats are played, "
            f"and the tune {last + 1}",
            file=head.source,
            remedy="give every level the tune's bars; longer things go into the route",
        )
    sheet, place = head, None
    if solo is not None:
        sheet = _joined(head, solo)
        place = (len(head.bars), len(solo.bars))
    route = plan_route(
        settings.route,
        form=form,
        head=sheet,
        order=order,
        solo=place,
        count_in_bars=settings.count_in_bars,
        intro=settings.band.intro,
        slows_down=settings.band.ending == "ritardando",
    )
    if place is not None:
        sheet = _with_changes(sheet, place[0], route, order)
    made = Level(settings, sheet, order, form, route, place)
    return replace(made, route=after_silence(route, made.tempo_qpm))


def after_silence(route: Route, tempo_qpm: float) -> Route:
    """Give a route as a file plays it: it begins with a moment of silence."""
    return replace(route, tempo_map=route.tempo_map.after_silence(tempo_qpm))


def _check_feels(settings: LevelSettings, form: Form) -> None:
    """Make sure that a section with a feel of its own is a section of the form."""
    labels = {section.label for section in form.sections}
    for label, _ in settings.band.section_feels:
        if label not in labels:
            raise LevelError(
                f'section_feels names a section "{label}", and the form '
                f"{form.pattern} has none",
                remedy=f"choose from {', '.join(sorted(labels))}",
            )


def _joined(head: Tune, solo: Tune) -> Tune:
    """Set the solo behind the head, its bars numbered on."""
    first = max(bar.number for bar in head.bars) + 1
    bars = [replace(bar, number=first + i) for i, bar in enumerate(solo.bars)]
    bars[0] = replace(
        bars[0], words=(Word(Fraction(0), "Solo"), *bars[0].words), line_break=True
    )
    last = replace(head.bars[-1], barline="final")
    return replace(head, bars=(*head.bars[:-1], last, *bars))


def _with_changes(sheet: Tune, first: int, route: Route, order: tuple[int, ...]) -> Tune:
    """Give solo bars the changes of the form where the solo has none at all."""
    if any(bar.chords for bar in sheet.bars[first:]):
        return sheet
    bars: list[Bar] = list(sheet.bars)
    for performed in route.bars:
        if performed.sheet_index >= first:
            source = performed.form_index
            bars[performed.sheet_index] = replace(
                bars[performed.sheet_index],
                chords=sheet.chords_in_force(order[source]),
            )
    return replace(sheet, bars=tuple(bars))
