"""The level bench: the source above, the level below, and what can be done to a note.

A note is chosen by a click or with the arrow keys. What is possible there is listed, each
with its options; choosing one shows it at once as a preview. Applying it saves the level's
file; everything can be undone. Suggestions come ranked, with their reasons.

Messages from the browser, besides those of every editor: ``{"select": id}``,
``{"preview": {"do", "options"}}``, ``{"cancel": true}``, ``{"apply": {"do", "options"}}``,
``{"suggestion": {"number", "apply"}}``, ``{"take_out": number}``, ``{"look": true}`` (what
is possible at the note chosen), ``{"listen": "source" | "level"}``. To the browser:
``{"looked": id}`` once the list is there, ``{"audio": {...}}`` with the bytes behind it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

import traitlets

from kit.errors import LevelError
from kit.figures.figure import Figure
from kit.lesson.choices import Stretch, printed_section, stretches
from kit.lesson.lesson import Lesson
from kit.levels.edit import Edit
from kit.levels.suggest import Suggestion
from kit.tune.model import Tune, note_id
from kit.tune.pitch import Interval
from kit.widgets._assets import script
from kit.widgets._choosers import Chooser, instrument_chooser, section_chooser
from kit.widgets._state import Destination
from kit.widgets.editors._bench_choices import (
    choices,
    edit_from,
    found_suggestions,
    nearest_first,
)
from kit.widgets.editors._bench_editing import (
    LevelEditorView,
    edited_level,
    edited_level_chooser,
)
from kit.widgets.editors._bench_sites import Site, nearest, sites, symbol_sites
from kit.widgets.editors._bench_staves import Staves, facts_html, staves_figure
from kit.widgets.editors._bench_written import concert_edit, written_text
from kit.widgets.editors._editing import level_edits_of

__all__ = ["BenchView", "bench"]


def bench(
    lesson: Lesson,
    level: str | None = None,
    instrument: str | None = None,
    section: str | None = None,
) -> BenchView:
    """Edit a level note by note: source above, level below.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level : str, optional
        A level that is made of edits; the first one if left out.
    instrument, section : str, optional
        First choice; the lesson's default instrument and the first section if left out.
    """
    return BenchView(lesson, {"instrument": instrument, "level": level, "section": section})


class BenchView(LevelEditorView):
    """Two staves, a note chosen, and what can be done to it."""

    _esm = script("choosers", "editing", "bench")

    staves = traitlets.Unicode().tag(sync=True)
    """Both staves as SVG, a preview included."""
    names = traitlets.Unicode().tag(sync=True)
    """What the two staves are, and in which key."""
    facts = traitlets.Unicode().tag(sync=True)
    sites: Any = traitlets.List().tag(sync=True)
    """What can be chosen: id and words, in order."""
    symbols: Any = traitlets.Dict().tag(sync=True)
    """Symbol id to the id of its site, for clicks on a note that is tied over."""
    selected = traitlets.Unicode().tag(sync=True)
    differing: Any = traitlets.List().tag(sync=True)
    """Symbols of the lower staff that differ from the upper."""
    fresh: Any = traitlets.List().tag(sync=True)
    """Symbols that the preview or the last edit changed."""
    preview_words = traitlets.Unicode().tag(sync=True)
    possible: Any = traitlets.List().tag(sync=True)
    ideas: Any = traitlets.List().tag(sync=True)
    here: Any = traitlets.List().tag(sync=True)
    """The edits of the bar: number in the list, and words."""

    _site: Site | None = None
    _suggested: tuple[Edit, ...] = ()
    _found: tuple[Tune, tuple[Suggestion, ...]] | None = None
    _just_changed: tuple[str, ...] = ()

    def offer(self) -> Iterable[Chooser]:
        """Offer instruments, the levels that can be edited, and sections."""
        return (
            instrument_chooser(self.lesson),
            edited_level_chooser(self.lesson),
            section_chooser(self._stretches(self.chosen["level"])),
        )

    def figure(self, chosen: Mapping[str, str]) -> Figure:
        """Draw both staves with what differs and how hard they are."""
        staves = self._staves(chosen, level_edits_of(self.lesson, chosen["level"]).head)
        title = f"{self.lesson.title}: {staves.titles[1]} over {staves.titles[0]}"
        return staves_figure(staves, title=title, found=staves.differences)

    @property
    def site(self) -> Site:
        """The place chosen.

        Raises
        ------
        LevelError
            If the bars shown have nothing to choose.
        """
        if self._site is None:
            raise LevelError("there is no note here to edit", remedy="choose other bars")
        return self._site

    def actions(self) -> Mapping[str, Callable[[Any], None]]:
        """Give what the browser may ask for."""
        return {
            **super().actions(),
            "select": self.select,
            "look": lambda _: self.look(),
            "suggestion": self._take_suggestion,
        }

    def select(self, name: Any) -> None:
        """Choose the note or rest with this symbol id, on either staff."""
        known = self._sites
        home = self.symbols.get(name, name) if isinstance(name, str) else ""
        found = next((site for site in known if site.id == home), None)
        if found is None:
            return
        previewed, self._preview = self._preview, None
        self._site = found
        if previewed is not None:
            self.show()
            return
        with self.hold_sync():
            self.selected = found.id
            self.here = self.edits_here()

    def look(self) -> None:
        """Work out what is possible at the place chosen, and what is suggested."""
        site, head = self.site, self.edits.head
        note = head.bars[site.index].notes[_position(site)]
        chord = head.chords_in_force(site.index)
        given = {
            "pitch": str(note.pitch) if note.pitch else "",
            "note": _last_pitch(head, site),
            "chord": str(chord[0].symbol) if chord else "",
        }
        tried = choices(head, bar=site.number, beat=site.beat, given=given)
        rows = [choice.to_browser() for choice in tried]
        self._show_written(rows, {name: text for name, text in given.items() if text})
        self.possible = rows
        # Two notes may allow the same: the browser then sees no change, and waits for one.
        self.send({"looked": site.id})
        self._suggest()

    def _suggest(self) -> None:
        """List the best suggestions, those for the place chosen first."""
        head, site = self.edits.head, self.site
        if self._found is None or self._found[0] is not head:
            # All of the tune's are found at once, for whichever note is chosen next.
            self._found = (
                head,
                found_suggestions(head, self.lesson.form, self.chosen["level"]),
            )
        numbers = {bar.number for bar in head.bars[self._first_bar : self._last_bar + 1]}
        best = nearest_first(self._found[1], numbers, near=(site.number, site.beat))
        self._suggested = tuple(item.edit for item in best)
        self.ideas = [{"words": str(item.edit), "reason": item.reason} for item in best]

    def _default(self, name: str) -> str:
        if name == "section":
            level = self._call.get("level") or edited_level(self.lesson)
            known = self._stretches(level)
            return known[min(1, len(known) - 1)].name
        return super()._default(name)

    def _stretches(self, level: str) -> tuple[Stretch, ...]:
        """Give what can be shown: the head and its sections, the written solo left out."""
        bars = len(self.lesson.level(level).head.bars)
        known = stretches(self.lesson.level(level))
        whole, *sections = [one for one in known if one.name not in ("head", "solo")]
        whole = Stretch("", "all", 0, bars - 1)
        return (whole, *(one for one in sections if one.last < bars))

    def _stretch(self, chosen: Mapping[str, str]) -> Stretch:
        known = {one.name: one for one in self._stretches(chosen["level"])}
        if chosen["section"] not in known:
            raise LevelError(
                f'there is no section "{chosen["section"]}"',
                file=self.lesson.settings.source,
                remedy=f"choose from {', '.join(name for name in known if name)}",
            )
        return known[chosen["section"]]

    def _staves(self, chosen: Mapping[str, str], head: Tune) -> Staves:
        stretch = self._stretch(chosen)
        edits = level_edits_of(self.lesson, chosen["level"])
        level = self.lesson.level(chosen["level"])
        return Staves(
            self.written(edits.source, chosen),
            self.written(head, chosen),
            stretch.first,
            stretch.last,
            (edits.over_title, level.settings.title),
            level.tempo_qpm,
        )

    def _drawn(self) -> dict[str, Any]:
        return {**super()._drawn(), "possible": [], "ideas": []}

    def shown(self) -> dict[str, Any]:
        """Draw what depends on edits and choice, for one message to the browser."""
        head = self.head_shown()
        staves = self._staves(self.chosen, head)
        stretch = {"first": staves.first, "last": staves.last}
        self._first_bar, self._last_bar = staves.first, staves.last
        self._lower = staves.lower
        # The places are those of the level as it stands; a preview is only looked at.
        written = staves.lower.tune
        if self._preview is not None:
            written = self.written(self.edits.head, self.chosen).tune
        self._sites = sites(written, **stretch)
        self._settle_site()
        found = staves.differences
        fresh = self._just_changed
        if self._preview is not None:
            fresh = _fresh(self.edits.head, head)
        symbols = symbol_sites(written, **stretch) | self._source_sites(staves)
        return {
            "staves": staves.svg,
            "names": _names(staves),
            "facts": facts_html(staves, found),
            "sites": [{"id": site.id, "words": site.words} for site in self._sites],
            "symbols": symbols,
            "selected": self._site.id if self._site else "",
            "differing": [name for item in staves.shown(found) for name in item.upper_ids],
            "fresh": list(fresh),
            "preview_words": str(self._preview) if self._preview else "",
            "here": self.edits_here(),
            **self.history(),
        }

    def _source_sites(self, staves: Staves) -> dict[str, str]:
        """Let a click on the upper staff choose what stands under it."""
        found = {}
        tune = staves.upper.tune
        for index in range(staves.first, staves.last + 1):
            for position, note in enumerate(tune.bars[index].notes):
                site = nearest(self._sites, index=index, onset=note.onset)
                if site is not None:
                    found[f"sb{index}n{position}"] = site.id
        return found

    def _settle_site(self) -> None:
        """Keep the choice at its moment when the music around it has changed."""
        old = self._site
        notes = tuple(site for site in self._sites if not site.is_rest)
        if old is None or not self._first_bar <= old.index <= self._last_bar:
            self._site = next(iter(notes or self._sites), None)
        else:
            self._site = nearest(self._sites, index=old.index, onset=old.onset)

    def edits_here(self) -> list[dict[str, Any]]:
        """Give the edits of the bar of the note chosen."""
        number = self._site.number if self._site else None
        return [
            {"number": place, "words": str(edit)}
            for place, edit in enumerate(self.edits.edits)
            if edit.bar == number
        ]

    def changed(self, before: Tune) -> None:
        """Draw the level anew, what has just changed marked."""
        self._just_changed = _fresh(before, self.edits.head)
        super().changed(before)

    def choose(self, **values: str) -> None:
        """Choose as the browser does; what changed last is marked no longer."""
        self._just_changed = ()
        super().choose(**values)

    def go_to(self, place: Destination) -> None:
        """Show the section or the bars chosen elsewhere, the first note of them chosen."""
        level = place.level or self.chosen["level"]
        if level not in edited_level_chooser(self.lesson):
            return
        if self._call["section"] and place.bars is None:
            return
        known = self._stretches(level)
        name = printed_section(self.lesson.level(level), place.section)
        if place.bars is not None:
            sheet = self.lesson.level(level).sheet.bars
            at = next((i for i, bar in enumerate(sheet) if bar.number == place.bars[0]), -1)
            shown = [one for one in known[1:] if one.first <= at <= one.last]
            name = shown[0].name if shown else None
        if name is None or name not in {one.name for one in known}:
            return
        self.choose(level=level, section=name)
        if place.bars is not None:
            here = [site for site in self._sites if site.number == place.bars[0]]
            notes = [site for site in here if not site.is_rest]
            for site in (notes or here)[:1]:
                self.select(site.id)

    def bar_heard(self) -> int:
        """Give the bar of the note chosen."""
        return self.site.index

    def read(self, wish: Any) -> Edit:
        """Make an edit at the place chosen of what the browser asks for."""
        edit = edit_from(self.site.number, self.site.beat, wish)
        return concert_edit(edit, self._interval())

    def _interval(self) -> Interval:
        """Give what lies between concert and written pitch at the place chosen."""
        return self._lower.bar_intervals[self.site.index]

    def _show_written(self, rows: list[dict[str, Any]], given: dict[str, str]) -> None:
        """Offer pitches and chords as the instrument reads them."""
        for row in rows:
            for option in row["options"]:
                if option["kind"] == "text" and row["do"] in given:
                    option["value"] = written_text(
                        row["do"], given[row["do"]], self._interval()
                    )

    def _take_suggestion(self, wish: Any) -> None:
        number = wish.get("number") if isinstance(wish, dict) else None
        if not isinstance(number, int) or not 0 <= number < len(self._suggested):
            return
        edit = self._suggested[number]
        at = self.edits.head.index_of(edit.bar)
        moment = next(
            (s for s in self._sites if (s.number, s.beat) == (edit.bar, edit.beat)), None
        )
        self._site = moment or nearest(self._sites, index=at, onset=edit.beat - 1)
        if wish.get("apply") is True:
            self.apply(edit)
        else:
            self.preview(edit)


def _fresh(before: Tune, after: Tune) -> tuple[str, ...]:
    """Name the symbols that one version has and the one before it had not."""
    return tuple(
        note_id(index, position)
        for index, (old, new) in enumerate(zip(before.bars, after.bars, strict=False))
        if old.notes != new.notes
        for position, note in enumerate(new.notes)
        if note not in old.notes
    )


def _names(staves: Staves) -> str:
    above, below = staves.titles
    instrument, key = staves.lower.instrument.name, staves.lower.tune.key
    return (
        f"Upper staff: {above}. Lower staff: {below}, what differs underlined. "
        f"{instrument}, in {key}."
    )


def _position(site: Site) -> int:
    return int(site.id.partition("n")[2])


def _last_pitch(tune: Tune, site: Site) -> str:
    """Give the last pitch before a rest, which a new note there may begin with."""
    pitch = ""
    for index, bar in enumerate(tune.bars[: site.index + 1]):
        for note in bar.notes:
            if index == site.index and note.onset >= site.onset:
                break
            pitch = str(note.pitch) if note.pitch else pitch
    return pitch
