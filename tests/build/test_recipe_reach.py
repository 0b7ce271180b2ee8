"""A piece of a build that comes out otherwise has another recipe: nothing old is taken.

Recipes list by hand what jobs depend on. So every job also runs here with a lesson that
notes what is asked of it: an ingredient that somebody forgot is told by name.
"""

import json

import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from kit.build import _work
from kit.build._jobs import early_jobs, pack_jobs, page_job, sheet_jobs
from kit.build._recipe import Recipes
from kit.build._work import Assignment
from kit.build.identity import lesson_hashes
from kit.cache import Cache
from kit.lesson.lesson import open_lesson
from kit.publish.cells import FIGURE_MIME, cells_for_page, read_cells
from kit.publish.handout._content import handout_content
from kit.publish.handout.papers import PAPERS
from kit.publish.page.packs import pack_contents
from kit.publish.page.view import PageRequest, page_levels, page_view
from kit.publish.recording.aids import description_text, running_order_html

BARS = (
    '"C"C E G c | "F"A F A2 | "C"G F D2 | "C"C4 | "F"F A c A | "F"F4 | '
    '"C"C E G E | "C"C4 | "G7"G F D B, | "F"F D F A | "C"C E G2 | "C"C4'
)
SETTINGS = """
title = "Blue Lamps"
instruments = ["alto-sax"]
sections = [{ label = "A", bars = "1-12" }]
[audio]
cover = "./cover.png"
[rights]
basis = "own work"
[tiers]
free_levels = ["low", "top"]
[[instrument]]
slug = "alto-sax"
levels = { intermediate = ["B3", "E6"] } # so wide that two octaves are comfortable in G
"""
LEVEL = '[[levels]]\nname = "{0}"\ntempo = 200\nnotation = "{0}.abc"\n'
LEVELS = ("low", "middle", "top")
CALLS = (
    {"show": "comparison"}, {"show": "form-chart"}, {"show": "solo-guide"},
    {"show": "excerpt", "key": "G major"}, {"show": "practice-plan"},
)  # fmt: skip


def write_abc(path, *, bars=BARS, key="C"):
    path.write_text(f"X:1\nT:Blue\nM:4/4\nL:1/4\nK:{key}\n{bars} |]\n", encoding="utf-8")


@pytest.fixture
def place(tmp_path):
    return written_lesson(tmp_path)


def written_lesson(home):
    """A lesson of three levels, each with its own notation, so that each changes alone."""
    folder = home / "blue-lamps"
    folder.mkdir()
    rows = "".join(LEVEL.format(name) for name in LEVELS)
    (folder / "lesson.toml").write_text(SETTINGS + rows, encoding="utf-8")
    Image.new("L", (8, 8), 40).save(folder / "cover.png")
    for name in ("tune", *LEVELS):
        write_abc(folder / f"{name}.abc")
    return folder


NOTEBOOK = {
    "cells": [
        {
            "cell_type": "code", "id": f"c{place}", "metadata": {}, "execution_count": 1,
            "source": "kit.figure(lesson)",
            "outputs": [
                {
                    "output_type": "display_data", "metadata": {},
                    "data": {FIGURE_MIME: {"version": 1, **call}},
                }
            ],
        }
        for place, call in enumerate(CALLS)
    ],
    "metadata": {}, "nbformat": 4, "nbformat_minor": 5,
}  # fmt: skip


def jobs_of(lesson, blob):
    pages = [
        page_job(lesson, blob, audience, links=(), packs=())
        for audience in ("members", "public")
    ]
    sheets = sheet_jobs(lesson, blob)
    return [*early_jobs(lesson), *sheets, *pack_jobs(lesson, blob), *pages]


def made(lesson, job):
    """Make what can be made at once, in a form that can be compared."""
    if job.kind == "recording":
        return running_order_html(lesson, job.level) + description_text(lesson, job.level)
    cells = read_cells(NOTEBOOK, levels=())
    if job.kind == "sheets":
        paper = PAPERS["a4"]
        content = handout_content(lesson, job.level, job.instrument, cells, paper=paper)
        return content.data, content.pictures
    if job.kind == "pack":
        names = page_levels(lesson, job.audience)
        shown = cells_for_page(
            cells, audience=job.audience, free_levels=lesson.settings.tiers.free_levels
        )
        return pack_contents(lesson, shown, names, job.level, job.instrument)
    if job.kind == "page":
        view = page_view(PageRequest(lesson, cells, job.audience))
        return str((view["facts"], view["levels"]))
    return None


def looked_at(place, cache):
    lesson = open_lesson(place)
    cook = Recipes(lesson, lesson_hashes(place), cache)
    blob = cache.keep(json.dumps(NOTEBOOK).encode())
    return {job.name: (cook.of(job), made(lesson, job)) for job in jobs_of(lesson, blob)}


LOW = BARS.replace("C E G c", "D, D, D, D,")
SWUNG = BARS.replace('"F"F A c A', '"Am"F A c A')
CHANGES = {
    # What is changed, and a piece that has to notice though its own level is as it was.
    "the level that the public page compares with": (
        "low", {"bars": BARS.replace("A F A2", "A F A G")}, "pack:top:alto-sax:public:100",
    ),
    "the changes of the first level, in every form chart": (
        "low", {"bars": SWUNG}, "pack:top:alto-sax:members:100",
    ),
    "the tune's key, told in the recording": (
        "tune", {"key": "F"}, "recording:top::members:100",
    ),
    "a low level, for which all read another key in another octave": (
        "middle", {"bars": LOW}, "pack:low:alto-sax:members:100",
    ),
    "the tune's changes, which name its form on the page": (
        "tune", {"bars": SWUNG}, "page:::public:100",
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", CHANGES)
def test_what_comes_out_otherwise_has_another_recipe(place, tmp_path, what):
    name, change, piece = CHANGES[what]
    cache = Cache(tmp_path / "cache")
    before = looked_at(place, cache)
    write_abc(place / f"{name}.abc", **change)
    after = looked_at(place, cache)
    assert before[piece][1] != after[piece][1]
    stale = [
        name
        for name, (recipe, output) in after.items()
        if recipe == before[name][0] and output != before[name][1]
    ]
    assert stale == []


def test_the_cover_counts_by_what_it_shows_however_it_is_named(place, tmp_path):
    cache = Cache(tmp_path / "cache")
    audio = "audio:low::members:100"
    before = looked_at(place, cache)[audio][0]
    words = PngInfo()
    words.add_text("Comment", "taken at home")
    Image.new("L", (8, 8), 40).save(place / "cover.png", pnginfo=words)
    assert looked_at(place, cache)[audio][0] == before
    Image.new("L", (8, 8), 41).save(place / "cover.png")
    assert looked_at(place, cache)[audio][0] != before


def test_a_tempo_is_told_as_a_setting_and_not_as_notes(place, tmp_path):
    cache = Cache(tmp_path / "cache")
    before = looked_at(place, cache)
    path = place / "lesson.toml"
    text = path.read_text(encoding="utf-8").replace("tempo = 200", "tempo = 210", 1)
    path.write_text(text, encoding="utf-8")
    after = looked_at(place, cache)
    old, new = (one["audio:low::members:100"][0] for one in (before, after))
    assert {part for part in new if new[part] != old[part]} == {"the level's settings"}


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("[audio]", "[audio]\na4 = 442", "A = 442 Hz"),
        ("tempo = 200", 'tempo = 200\nending = "stop"', "the last chord cut short"),
    ],
)
def test_what_is_said_of_the_recordings_reaches_handouts_and_page(
    place, tmp_path, old, new, words
):
    cache = Cache(tmp_path / "cache")
    before = looked_at(place, cache)
    path = place / "lesson.toml"
    path.write_text(path.read_text(encoding="utf-8").replace(old, new, 1), encoding="utf-8")
    after = looked_at(place, cache)
    for piece in ("sheets:low:alto-sax:members:100", "page:::members:100"):
        assert words not in str(before[piece][1])
        assert words in str(after[piece][1])
        assert before[piece][0] != after[piece][0]


# What is read, seen while the jobs run.

COVERED = {"instruments": "which instrument a part is for is in the part"}
"""Settings that a recipe holds in another form than their own, and why that will do."""


class NotingSettings:
    def __init__(self, settings, reads):
        self._settings, self._reads = settings, reads

    def __deepcopy__(self, _):
        return self

    def __getattr__(self, name):
        if not name.startswith("__"):
            self._reads.add(f"setting {name}")
        return getattr(self._settings, name)


def noting(lesson):
    """Let a lesson note what it is asked for, itself included, once all is computed."""
    reads = set()
    for level in lesson.level_names:
        assert lesson.level(level).sheet
        for one in lesson.settings.instruments:
            lesson.part(level, one.slug)
    assert lesson.form
    level_of, part_of = lesson.level, lesson.part

    def level(name):
        reads.add(f"level {name}")
        return level_of(name)

    def part(name, slug, **other):
        reads.add(f"level {name}")
        reads.add(f"part {name} {slug} {other.get('concert_key') or ''}")
        return part_of(name, slug, **other)

    lesson.settings = NotingSettings(lesson.settings, reads)
    lesson.level, lesson.part = level, part
    return lesson, reads


@pytest.fixture(scope="module")
def watched(tmp_path_factory):
    """Do every job; give, job by job, what it has read and what its recipe has read."""
    home = tmp_path_factory.mktemp("watched")
    with pytest.MonkeyPatch.context() as monkeypatch:
        monkeypatch.setenv("KIT_CACHE", str(home / "cache"))
        return reads_of_all(written_lesson(home), Cache(home / "cache"), monkeypatch)


def reads_of_all(place, cache, monkeypatch):
    lesson, reads = noting(open_lesson(place))
    monkeypatch.setattr(_work, "_lesson", lambda *_: lesson)
    blob = cache.keep(json.dumps(NOTEBOOK).encode())
    found = {}
    for job in jobs_of(lesson, blob):
        if job.kind == "notebook":
            continue
        reads.clear()
        Recipes(lesson, lesson_hashes(place), cache).of(job)
        listed = set(reads)
        reads.clear()
        assigned = Assignment(job, "key", "hash", str(cache.folder), "environment", {})
        assert list(_work._MAKERS[job.kind](assigned, cache)), job.name
        found[job.name] = (set(reads), listed)
    return found


def forgotten(read, listed):
    covered = {f"setting {name}" for name in COVERED}
    # How a level is read by an instrument follows from the level and all that is in `part`.
    asked = {what for what in read if not what.startswith("part ")}
    return asked - listed - covered


def test_no_job_reads_what_its_recipe_does_not(watched):
    assert {job: lost for job, both in watched.items() if (lost := forgotten(*both))} == {}


def test_a_forgotten_setting_would_be_told(watched):
    read, listed = watched["sheets:low:alto-sax:members:100"]
    assert forgotten(read, listed - {"setting summary"}) == {"setting summary"}
