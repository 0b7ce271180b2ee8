"""What is built, killed and compared by `kills`: three lessons, and what must be true.

The clean builds that outputs are compared with are made once for each state of the school:
eight at the most, as each lesson has two versions.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
import zipfile
from collections import Counter
from copy import deepcopy
from pathlib import Path
from random import Random
from urllib.parse import unquote, urlsplit
from xml.etree import ElementTree as ET

from build_promises import BrokenPromiseError, require_sentence, require_whole, tree
from edits_at_random import Draft, change_chord, change_note, change_tiers, first_draft
from kills_watch import Places

__all__ = ["SLUGS", "WAIT_S", "School"]

SLUGS = ("small-tune", "Ωδή a\u0300 夕べ", "שיר #7")
WAIT_S = 300
_LINK = re.compile(r'\b(?:href|src)="([^"#][^"]*)"')


class School:
    """Three lessons in two versions each, their outputs, and what happened so far."""

    def __init__(self, place: Path, seed: int) -> None:
        self.place, self.chance = place, Random(seed)
        self.lessons, self.out, self.cache = (
            place / name for name in ("lessons", "out", "cache")
        )
        self.lessons.mkdir(parents=True)
        self.versions = {slug: self._versions(slug) for slug in SLUGS}
        self.now = dict.fromkeys(SLUGS, 0)
        self.clean: dict[tuple[int, ...], dict[str, str]] = {}
        self.counts: Counter[str] = Counter()
        self.lost_links: set[str] = set()
        for slug in SLUGS:
            self._write(slug)
        self.expect_done(self.command(), "the first build")
        self.compare()

    def _versions(self, slug: str) -> tuple[Draft, Draft]:
        first = first_draft(self.chance, slug)
        level = {"name": "easy", "tempo": 300, "feel": "straight-eighths"}
        first.levels = [level | {"count_in_bars": 0}]
        first.top = {"title": f"Tune {SLUGS.index(slug)}", "instruments": ["tenor-sax"]}
        call = {"code": "kit.excerpt(lesson)", "tags": []}
        first.cells = [{"prose": "Listen first.", "tags": []}, call]
        second = deepcopy(first)
        for change in (change_note, change_chord, change_tiers):
            change(self.chance, second)
        return first, second

    def _write(self, slug: str) -> None:
        self.versions[slug][self.now[slug]].write(self.lessons / slug)

    def flip(self) -> str:
        """Change one lesson to its other version, and give its name."""
        slug = self.chance.choice(SLUGS)
        self.now[slug] = 1 - self.now[slug]
        self._write(slug)
        return slug

    def at(self, slug: str) -> Places:
        """Give the folders in which a lesson's build can be seen."""
        return Places(self.out, slug, self.cache)

    def command(self, out: Path | None = None, **env: str) -> subprocess.Popen[str]:
        """Start the real command on all lessons, as a group of processes."""
        folders = [str(self.lessons / slug) for slug in SLUGS]
        words = ["build", *folders, "--out", str(out or self.out), "--jobs", "2"]
        return subprocess.Popen(
            [sys.executable, "-P", "-m", "kit", *words],
            cwd=self.place, env={**os.environ, "KIT_CACHE": str(self.cache), **env},
            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, start_new_session=True,
            text=True, encoding="utf-8", errors="replace",
        )  # fmt: skip

    def expect_done(self, run: subprocess.Popen[str], what: str) -> None:
        """Wait for a build that has no reason to fail."""
        _, said = run.communicate(timeout=WAIT_S)
        if run.returncode != 0:
            raise BrokenPromiseError(f"{what} ended with {run.returncode}: {said[-1500:]}")

    def read(self, run: subprocess.Popen[str]) -> int:
        """Wait for a build that may fail, and check what it says."""
        _, said = run.communicate(timeout=WAIT_S)
        code = run.returncode
        if "Traceback" in said or code not in (0, 1):
            raise BrokenPromiseError(f"ended with {code}:\n{said[-3000:]}")
        errors = [line for line in said.splitlines() if line.startswith("kit: ")]
        if code == 1 and not errors:
            raise BrokenPromiseError(f"failed without a word: {said[-1000:]}")
        if code == 1:
            require_sentence(errors[-1])
            self.counts[f"said: {re.sub(r'/[^:]+', 'PLACE', errors[-1])[:100]}"] += 1
        return code

    def outputs(self) -> dict[str, dict[str, str]]:
        """Give the hashes of every output; each has to be whole."""
        return {slug: require_whole(self.out / slug) for slug in SLUGS}

    def require_outputs(self, before: dict[str, dict[str, str]]) -> None:
        """Make sure that each output is whole: the last good one, or the new one."""
        for slug in SLUGS:
            folder = self.out / slug
            if not folder.is_dir():
                # Killed between the two renames: the next build puts it back.
                olds = self.at(slug).olds()
                if not olds or require_whole(olds[-1]) != before[slug]:
                    raise BrokenPromiseError(f"the last good output of {slug} is gone")
            elif require_whole(folder) not in (before[slug], self._wanted(slug)):
                raise BrokenPromiseError(f"{slug} is neither the old output nor the new")
        self._require_catalogue()

    def _require_catalogue(self) -> None:
        for name in ("index.html", "public/index.html"):
            page = self.out / name
            text = page.read_text("utf-8") if page.exists() else "</html>"
            # Its seal, a comment, stands behind the end.
            if "</html>" not in text:
                raise BrokenPromiseError(f"{name} is cut off")
        site, feed = self.out / "free-site.zip", self.out / "feed.xml"
        if site.exists() and zipfile.ZipFile(site).testzip():
            raise BrokenPromiseError("the archive of the catalogue is damaged")
        if feed.exists():
            ET.parse(feed)

    def _wanted(self, slug: str) -> dict[str, str]:
        start = f"{slug}/"
        every = self.cleanly().items()
        return {name[len(start) :]: mark for name, mark in every if name.startswith(start)}

    def cleanly(self) -> dict[str, str]:
        """Give the hashes of a build with an empty cache into an empty folder."""
        state = tuple(self.now.values())
        if state not in self.clean:
            place = Path(tempfile.mkdtemp(dir=self.place))
            run = self.command(place / "out", KIT_CACHE=str(place / "cache"))
            self.expect_done(run, "a clean build")
            self.clean[state] = _visible(place / "out")
            shutil.rmtree(place)
            self.counts["clean builds"] += 1
        return self.clean[state]

    def compare(self) -> None:
        """Make sure that all is as after a clean build; note links that lead nowhere."""
        found, wanted = _visible(self.out), self.cleanly()
        if found != wanted:
            names = sorted({name for name, _ in set(found.items()) ^ set(wanted.items())})
            raise BrokenPromiseError(f"other bytes than a clean build: {names[:12]}")
        pages = ("index.html", *(f"{slug}/index.html" for slug in SLUGS))
        self.lost_links |= {link for page in pages for link in self._broken_links(page)}
        self.counts["compared with a clean build"] += 1

    def _broken_links(self, name: str) -> list[str]:
        page = self.out / name
        links = set(_LINK.findall(page.read_text(encoding="utf-8")))
        parts = [(link, urlsplit(link)) for link in sorted(links)]
        inner = [
            (link, unquote(part.path))
            for link, part in parts
            if not part.scheme and not part.netloc and part.path
        ]
        self.counts["links followed"] += len(inner)
        return [
            f"{name}: {link}" for link, path in inner if not (page.parent / path).exists()
        ]


def _visible(out: Path) -> dict[str, str]:
    """Hash what is for a site: not what is the kit's own, under names with a dot."""
    return {
        name: mark
        for name, mark in tree(out).items()
        if not any(part.startswith(".") for part in name.split("/"))
    }
