"""How does the form look at a glance, on a screen or printed without colour?

One strip a section, one cell a bar, all to the same scale. A section that returns has the
same letter, colour and hem pattern as the first time; a bar that differs from then has a
heavy outline, a corner mark and no hem. The words of `form_chart_words` say the same.

Conventions
-----------
* ``data-section`` is the place in `Form.sections`, ``data-bar`` the index in the unfolded
  tune, ``data-number`` the printed bar number, so that a script can use it as a map.
* Lengths are user units of the viewBox, 720 across unless fewer bars are asked for in a
  row; the drawing scales with its box.
* Ids inside the drawing start with a prefix made from its content, so that several charts
  can stand on one page.

Source: the look is our own; colours in chart.toml with their origin.
"""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass
from functools import cache
from html import escape
from importlib.resources import files

from kit.form.differences import BarDifference, differences
from kit.form.facts import FormFacts, form_facts
from kit.form.harmony import changes
from kit.form.sections import Form, Section
from kit.form.wording import bars_words, counted, ordinal
from kit.tune.model import Tune

__all__ = ["ChartTheme", "form_chart_svg", "form_chart_words"]

_WIDTH = 720.0
_TAB = 46.0
_MARGIN = 2.0
_HEADER = 20.0
_HEM = 11.0
_GAP = 12.0
_SMALLEST_CHORD = 12.0
_NARROW_CELL = 80.0
"""Width of a bar where the row's length is asked for: two chords fit, one under another."""


@dataclass(frozen=True, slots=True)
class ChartTheme:
    """Ink and paper of the chart; `colour` off draws it in ink alone."""

    ink: str = "#1a1a1a"
    quiet_ink: str = "#4a4a4a"
    paper: str = "#ffffff"
    font_family: str = "system-ui, sans-serif"
    colour: bool = True


@dataclass(frozen=True, slots=True)
class _Look:
    """Colour and hem pattern of one label."""

    colour: str
    pattern: str
    filled: bool = False


@cache
def _looks() -> tuple[_Look, ...]:
    table = files("kit.form").joinpath("chart.toml").read_text(encoding="utf-8")
    return tuple(_Look(**row) for row in tomllib.loads(table)["looks"])


def form_chart_svg(
    played: Tune,
    form: Form,
    *,
    show_changes: bool = False,
    numbers: bool = True,
    theme: ChartTheme | None = None,
    bars_per_row: int | None = None,
) -> str:
    """Draw the form.

    Parameters
    ----------
    played : Tune
        The unfolded tune, in the key in which chords and keys are to be named.
    form : Form
        Its sections.
    show_changes : bool
        Whether the chords stand in the bars.
    numbers : bool
        Whether the bars are numbered, as printed.
    theme : ChartTheme, optional
        Ink, paper and font.
    bars_per_row : int > 0, optional
        How many bars stand side by side; a whole section if it fits where not given. Four
        make a drawing that can be read on a telephone.

    Returns
    -------
    str
        An SVG document without XML declaration, accessible by title and description.

    Raises
    ------
    ValueError
        If `bars_per_row` is not above zero.
    """
    if bars_per_row is not None and bars_per_row < 1:
        raise ValueError("a row of the chart has at least one bar")
    chart = _Chart(played, form, show_changes, numbers, theme or ChartTheme(), bars_per_row)
    return chart.svg()


def form_chart_words(played: Tune, form: Form) -> str:
    """Say in words what the chart shows, one sentence a section.

    Parameters
    ----------
    played : Tune
        The unfolded tune.
    form : Form
        Its sections.
    """
    return " ".join(_sentences(played, form, form_facts(played, form)))


def _sentences(played: Tune, form: Form, facts: FormFacts) -> list[str]:
    spoken = [f"{facts.name[:1].upper()}{facts.name[1:]}."]
    for place, section in enumerate(form.sections):
        changed = [item for item in facts.differences if item.section == place]
        time = form.occurrence(place)
        again = ""
        if time > 1:
            but = f" except {bars_words(item.number for item in changed)}"
            again = f", as the first time{but if changed else ''}"
        name = section.label if time == 1 else f"{section.label}, {ordinal(time)} time"
        lead = " with a pick-up" if section.pickup is not None else ""
        key = facts.key_words[place]
        spoken.append(
            f"{name}: {bars_words(_numbers(played, section))}{lead}"
            f"{', ' if key else ''}{key}{again}."
        )
    return spoken


def _numbers(played: Tune, section: Section) -> list[int]:
    return [played.bars[index].number for index in _bars(played, section)]


def _bars(played: Tune, section: Section) -> list[int]:
    return [
        index
        for index in range(section.first, section.last + 1)
        if not played.bars[index].pickup
    ]


def _bars_a_row(longest: int) -> int:
    """How many bars stand side by side: a whole section if it fits, else 4 or 8."""
    if longest <= 10:
        return max(longest, 4)
    # A blues is three lines of four (common practice).
    return 4 if longest == 12 else 8


class _Chart:
    """Lays the strips out from top to bottom and writes them down."""

    def __init__(
        self,
        played: Tune,
        form: Form,
        show_changes: bool,
        numbers: bool,
        theme: ChartTheme,
        bars_per_row: int | None,
    ) -> None:
        self.played = played
        self.form = form
        self.show_changes = show_changes
        self.numbers = numbers
        self.theme = theme
        self.facts = form_facts(played, form)
        self.changed = {item.bar: item for item in differences(played, form)}
        longest = max(section.bar_count for section in form.sections)
        self.a_row = bars_per_row or _bars_a_row(longest)
        self.width = _WIDTH
        if bars_per_row is not None:
            self.width = _TAB + 2 * _MARGIN + _NARROW_CELL * bars_per_row
        self.cell_width = (self.width - _TAB - 2 * _MARGIN) / self.a_row
        two_lines = any(
            self._needs_two_lines(index)
            for section in form.sections
            for index in _bars(played, section)
        )
        self.cell_height = (64.0 if two_lines else 50.0) if show_changes else 36.0
        self.words = form_chart_words(played, form)
        seed = f"{self.words}{show_changes}{numbers}{theme}{bars_per_row}"
        self.prefix = "form" + hashlib.sha256(seed.encode()).hexdigest()[:8]

    def svg(self) -> str:
        top = _MARGIN
        strips = []
        for place, section in enumerate(self.form.sections):
            drawn, height = self._strip(place, section, top)
            strips.append(drawn)
            top += height + _GAP
        legend, legend_height = self._legend(top)
        height = top + legend_height - (0 if legend else _GAP) + _MARGIN
        title = escape(f"Form of {self.played.title or 'the tune'}: {self.form.pattern}")
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="form-chart" role="img" '
            f'viewBox="0 0 {self.width:g} {height:g}" width="100%" '
            f'font-family="{escape(self.theme.font_family)}" '
            f'aria-labelledby="{self.prefix}-t {self.prefix}-d">'
            f'<title id="{self.prefix}-t">{title}</title>'
            f'<desc id="{self.prefix}-d">{escape(self.words)}</desc>'
            f"<defs>{self._patterns()}</defs>{''.join(strips)}{legend}</svg>"
        )

    def _patterns(self) -> str:
        drawn = []
        for place in range(len(self.form.labels)):
            look, colour = self._look(place)
            paint = (
                f'fill="{colour}"'
                if look.filled
                else f'fill="none" stroke="{colour}" stroke-width="1.6"'
            )
            drawn.append(
                f'<pattern id="{self.prefix}-p{place}" width="8" height="8" '
                f'patternUnits="userSpaceOnUse"><path d="{look.pattern}" {paint}/>'
                "</pattern>"
            )
        return "".join(drawn)

    def _look(self, place: int) -> tuple[_Look, str]:
        look = _looks()[place % len(_looks())]
        return look, look.colour if self.theme.colour else self.theme.ink

    def _strip(self, place: int, section: Section, top: float) -> tuple[str, float]:
        bars = _bars(self.played, section)
        rows = -(-len(bars) // self.a_row)
        label_place = self.form.labels.index(section.label)
        _, colour = self._look(label_place)
        height = _HEADER + rows * self.cell_height
        cells = "".join(
            self._cell(index, offset, top + _HEADER, label_place)
            for offset, index in enumerate(bars)
        )
        tab = (
            f'<rect x="{_MARGIN:g}" y="{top + _HEADER:g}" width="{_TAB - 6:g}" '
            f'height="{rows * self.cell_height - 3:g}" rx="6" fill="{colour}"/>'
            + _text(
                section.label,
                _MARGIN + (_TAB - 6) / 2,
                top + _HEADER + (rows * self.cell_height - 3) / 2,
                size=min(24.0, 1.5 * (_TAB - 10) / max(1, len(section.label))),
                fill=self.theme.paper,
                extra='font-weight="700" text-anchor="middle" dominant-baseline="central"',
            )
        )
        header = _text(
            self._header(place, section), _MARGIN + _TAB, top + 13, size=12.5,
            fill=self.theme.quiet_ink,
        )  # fmt: skip
        group = (
            f'<g data-section="{place}" data-label="{escape(section.label)}">'
            f"{header}{tab}{cells}</g>"
        )
        return group, height

    def _header(self, place: int, section: Section) -> str:
        time = self.form.occurrence(place)
        repeated = sum(s.label == section.label for s in self.form.sections) > 1
        parts = [f"{ordinal(time)} time"] if repeated else []
        parts.append(bars_words(_numbers(self.played, section)))
        if section.pickup is not None:
            parts.append("with a pick-up")
        parts.append(self.facts.key_words[place])
        text = " · ".join(part for part in parts if part)
        return text[:1].upper() + text[1:]

    def _cell(self, index: int, offset: int, top: float, label_place: int) -> str:
        row, column = divmod(offset, self.a_row)
        x = _MARGIN + _TAB + column * self.cell_width
        y = top + row * self.cell_height
        bar = self.played.bars[index]
        changed = self.changed.get(index)
        drawn = [self._ground(x, y, label_place, changed)]
        if self.numbers:
            drawn.append(
                _text(str(bar.number), x + 5, y + 14, size=11.5, fill=self.theme.quiet_ink)
            )
        if self.show_changes:
            drawn.append(self._chords(index, x, y))
        return (
            f'<g data-bar="{index}" data-number="{bar.number}"'
            # chr(34): before Python 3.12 no quotation mark fits between these braces.
            f"{' data-changed=' + chr(34) + 'true' + chr(34) if changed else ''}>"
            f"{''.join(drawn)}</g>"
        )

    def _ground(
        self, x: float, y: float, label_place: int, changed: BarDifference | None
    ) -> str:
        _, colour = self._look(label_place)
        ink, height = self.theme.ink, self.cell_height
        width = self.cell_width - 3
        box = f'x="{x:g}" y="{y:g}" width="{width:g}" height="{height - 3:g}"'
        tint = f'<rect {box} fill="{colour}" fill-opacity="0.13"/>'
        if changed is not None:
            corner = f"M{x + width:g},{y:g} h-13 l13,13 z"
            return (
                f"<g><title>{escape(f'Bar {changed.number} {changed.words}')}</title>"
                f'<rect {box} fill="{self.theme.paper}"/>'
                f'<rect {box} fill="none" stroke="{ink}" stroke-width="2.4"/>'
                f'<path d="{corner}" fill="{ink}"/></g>'
            )
        hem = y + height - 3 - _HEM
        return (
            f"{tint}"
            f'<rect x="{x:g}" y="{hem:g}" width="{width:g}" height="{_HEM:g}" '
            f'fill="url(#{self.prefix}-p{label_place})"/>'
            f'<rect {box} fill="none" stroke="{colour}" stroke-width="1"/>'
        )

    def _symbols(self, index: int) -> list[str]:
        return [str(change.symbol) for change in changes(self.played, index, index)]

    def _fits(self, text: str, size: float) -> bool:
        """Whether a text surely fits a cell: a bold sign is 0.7 of its size wide."""
        return 0.7 * size * len(text) <= self.cell_width - 12

    def _needs_two_lines(self, index: int) -> bool:
        symbols = self._symbols(index)
        return len(symbols) > 1 and not self._fits(" ".join(symbols), _SMALLEST_CHORD)

    def _chords(self, index: int, x: float, y: float) -> str:
        symbols = self._symbols(index)
        half = (len(symbols) + 1) // 2
        split = self._needs_two_lines(index)
        lines = [symbols[:half], symbols[half:]] if split else [symbols]
        drawn = []
        for place, line in enumerate(lines):
            text = " ".join(line)
            size = min(14.0, (self.cell_width - 12) / (0.7 * max(1, len(text))))
            right = place > 0
            drawn.append(
                _text(
                    text,
                    x + (self.cell_width - 9 if right else 5),
                    y + 30 + 14 * place,
                    size=round(size, 1),
                    fill=self.theme.ink,
                    extra='font-weight="600"' + (' text-anchor="end"' if right else ""),
                )
            )
        return "".join(drawn)

    def _legend(self, top: float) -> tuple[str, float]:
        if not self.changed:
            return "", 0.0
        ink = self.theme.ink
        x, y = _MARGIN + _TAB, top
        mark = (
            f'<rect x="{x:g}" y="{y:g}" width="20" height="13" fill="none" stroke="{ink}" '
            f'stroke-width="2"/><path d="M{x + 20:g},{y:g} h-8 l8,8 z" fill="{ink}"/>'
        )
        count = counted(len(self.changed), "bar")
        text = f"not as it was the first time ({count})"
        return (
            mark + _text(text, x + 28, y + 11, size=12.5, fill=self.theme.quiet_ink),
            18.0,
        )


def _text(text: str, x: float, y: float, *, size: float, fill: str, extra: str = "") -> str:
    space = " " if extra else ""
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" fill="{fill}"{space}{extra}>'
        f"{escape(text)}</text>"
    )
