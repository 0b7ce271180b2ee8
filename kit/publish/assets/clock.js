// The sound and its bar-to-second map. Everything on the page that moves asks this clock.
//
// Time is told in seconds at the level's own tempo, whatever rendering is heard and however
// fast: `place` converts from and to the sound's own seconds.
//
// A bar of the map is [start, end, sheet index, form index, number, section, kind, whether a
// passage begins, whether the sheet's notes are played].

const START = 0, END = 1, SHEET = 2, FORM = 3, NUMBER = 4, SECTION = 5, KIND = 6;
const BEGINS = 7, PLAYED = 8;
const KIND_WORDS = { intro: "Intro", head: "Head", solo: "Solo", tag: "Tag", ending: "Ending" };
const HEARD_AGAIN_S = 0.02; // A note must not lose its beginning to the end of a count-in.

class Clock {
  constructor(audio, onTrouble) {
    this.audio = audio;
    this.onTrouble = onTrouble;
    this.sources = new Sources();
    this.clicks = new Clicks();
    this.source = null;
    this.percent = 100;
    this.map = [];
    this.countInEnd = 0;
    this.loop = null;
    this.countsIn = false;
    this.lead = null;
    this.listeners = [];
    this.bar = -1;
    audio.preservesPitch = true;
    audio.addEventListener("error", () => this.withoutSource());
    audio.addEventListener("pause", () => this.endLead());
    // A hidden page draws no frames, but the sound goes on and so must its loop.
    audio.addEventListener("timeupdate", () => this.tick());
    const watch = () => {
      this.tick();
      requestAnimationFrame(watch);
    };
    requestAnimationFrame(watch);
  }

  get place() {
    return this.audio.currentTime * (this.source?.step ?? 100) / 100;
  }

  set place(seconds) {
    this.audio.currentTime = seconds * 100 / (this.source?.step ?? 100);
  }

  // Go to a place in the music and say so at once: on a busy machine the next frame is late.
  goTo(seconds) {
    this.place = seconds;
    this.tick();
  }

  // Take the sound of a level and mix; go on from the same place in the music if wanted.
  load(level, mix, keepPlace) {
    const plays = !this.audio.paused;
    const place = keepPlace ? this.place : 0;
    this.level = level;
    this.mix = mix;
    this.map = level.map;
    this.countInEnd = level.count_in_end;
    this.bar = -2;
    return this.takeSource(place, plays);
  }

  // A share of the level's tempo: the nearest rendering, played a little faster or slower.
  setTempo(percent) {
    this.percent = percent;
    const best = this.sources.best(this.level, this.mix, percent);
    if (best?.address === this.source?.address) this.setRate();
    else this.takeSource(this.place, !this.audio.paused);
  }

  setRate() {
    const rate = this.percent / (this.source?.step ?? 100);
    this.audio.defaultPlaybackRate = rate;
    this.audio.playbackRate = rate;
  }

  async takeSource(place, plays) {
    this.endLead();
    this.source = this.sources.best(this.level, this.mix, this.percent);
    if (!this.source) {
      this.audio.removeAttribute("src");
      this.onTrouble("This sound is not here. Its file belongs into the folder audio beside the page.");
      return;
    }
    this.audio.src = this.source.address;
    this.setRate();
    if (place > 0) this.place = place;
    if (plays) await this.start();
  }

  // A file that does not lie where it should: play the next best.
  withoutSource() {
    if (!this.source?.path) return;
    const place = this.place;
    this.sources.missing.add(this.source.path);
    this.onTrouble("The file for this tempo or mix is not beside the page; another takes its place.");
    this.takeSource(place, this.wanted);
  }

  // The last bar that has begun; -1 in the count-in, the last bar while the sound dies away.
  barAt(seconds) {
    let low = 0, high = this.map.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.map[middle][START] <= seconds + 1e-4) low = middle + 1;
      else high = middle;
    }
    return low - 1;
  }

  tick() {
    if (!this.map.length) return;
    const now = this.place;
    if (this.lead) this.watchLead(now);
    else if (this.loop && !this.audio.paused && now >= this.loop.end) {
      this.beginRound();
      return;
    }
    const bar = this.lead ? -1 : this.barAt(now);
    const turned = bar !== this.bar;
    this.bar = bar;
    for (const tell of this.listeners) tell(bar, now, turned);
  }

  // ---- loops ----

  setLoop(range) {
    this.endLead();
    this.loop = range && { start: this.map[range[0]][START], end: this.map[range[1]][END], first: range[0] };
    if (this.loop && !this.isInLoop()) this.goTo(this.loop.start);
  }

  isInLoop() {
    return this.place >= this.loop.start && this.place < this.loop.end;
  }

  // A round begins at the loop's first bar. With a count-in, one bar of clicks comes before it
  // while the recording runs on in silence, so that the first note falls where it must.
  beginRound() {
    const bar = this.map[this.loop.first];
    const length = bar[END] - bar[START];
    const from = this.loop.start - length;
    if (!this.countsIn || from < 0) {
      this.place = this.loop.start;
      return;
    }
    this.clicks.wake();
    this.lead = { from, length, planned: from < this.countInEnd };
    // The recording's own count-in is there to be heard.
    this.audio.muted = !this.lead.planned;
    this.place = from;
  }

  watchLead(now) {
    if (now >= this.loop.start - HEARD_AGAIN_S) {
      this.lead = null;
      this.audio.muted = false;
    } else if (!this.lead.planned && !this.audio.seeking && !this.audio.paused && now > this.lead.from) {
      this.lead.planned = true;
      this.clicks.plan(this.leadBeats(now));
    }
  }

  leadBeats(now) {
    const beats = Math.max(1, Math.round(this.level.beats));
    const speed = this.percent / 100;
    return [...Array(beats).keys()]
      .map((beat) => (this.lead.from + this.lead.length * beat / beats - now) / speed)
      .map((seconds, beat) => (beat === 0 ? Math.max(0, seconds) : seconds));
  }

  endLead() {
    if (!this.lead) return;
    this.lead = null;
    this.clicks.stop();
    this.audio.muted = false;
    this.goTo(this.loop.start);
  }

  // ---- start and stop ----

  playFrom(bar) {
    this.endLead();
    this.goTo(bar < 0 ? 0 : this.map[bar][START]);
    return this.start();
  }

  toggle() {
    if (!this.audio.paused) {
      this.wanted = false;
      this.audio.pause();
      return;
    }
    const atStart = this.loop && (!this.isInLoop() || this.place - this.loop.start < 0.05);
    if (atStart) this.beginRound();
    this.tick();
    this.start();
  }

  // A browser may refuse sound before the first click; a new source ends a pending start, and a
  // file that is not there is another's turn (`withoutSource`).
  async start() {
    this.wanted = true;
    try {
      await this.audio.play();
    } catch (error) {
      if (!["AbortError", "NotAllowedError", "NotSupportedError"].includes(error.name)) throw error;
    }
  }

  // ---- words ----

  describe(bar) {
    if (bar < 0) return "Count-in";
    const entry = this.map[bar];
    const section = entry[SECTION] ? ` ${entry[SECTION]}` : "";
    return `${kindWords(entry[KIND])}${section}, bar ${entry[NUMBER]}`;
  }

  // Stretches of the performance with one section and kind, for the loop's menu.
  passages() {
    const found = [];
    this.map.forEach((entry, place) => {
      if (place === 0 || entry[BEGINS]) found.push({ first: place, last: place });
      else found[found.length - 1].last = place;
    });
    return found;
  }
}

function kindWords(kind) {
  return KIND_WORDS[kind] ?? kind.charAt(0).toUpperCase() + kind.slice(1);
}
