// The bar-to-second map of what sounds. Everything on the page that moves asks this clock.
//
// Time is told in seconds at the level's own tempo, however fast it is heard.
//
// A bar of the map is [start, end, sheet index, form index, number, section, kind, whether a
// passage begins, whether the sheet's notes are played, beats].

const START = 0, END = 1, SHEET = 2, FORM = 3, NUMBER = 4, SECTION = 5, KIND = 6;
const BEGINS = 7, PLAYED = 8, BEATS = 9;
const KIND_WORDS = { intro: "Intro", head: "Head", solo: "Solo", tag: "Tag", ending: "Ending" };
const AT_START_S = 0.05;

class Clock {
  constructor(music) {
    this.music = music;
    this.percent = 100;
    this.map = [];
    this.countInEnd = 0;
    this.loop = null;
    this.range = null;
    this.countsIn = false;
    this.listeners = [];
    this.bar = -1;
    const watch = () => {
      this.tick();
      requestAnimationFrame(watch);
    };
    requestAnimationFrame(watch);
  }

  get sound() { return this.music.sound; }

  get playing() { return this.sound.playing; }

  get place() { return this.sound.place; }

  set place(seconds) { this.sound.seek(seconds); }

  // Go to a place in the music and say so at once: on a busy machine the next frame is late.
  goTo(seconds) {
    this.place = seconds;
    this.tick();
  }

  // Take another level's music, from its beginning.
  load(level, instrument) {
    const plays = this.playing;
    this.level = level;
    this.map = level.map;
    this.countInEnd = level.count_in_end;
    this.bar = -2;
    this.loop = this.range = null;
    if (plays) this.sound.pause();
    this.music.take(level, instrument);
    this.tick();
    if (plays) this.music.play();
  }

  // A share of the level's tempo.
  setTempo(percent) {
    this.percent = percent;
    return this.sound.setSpeed(percent / 100);
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
    const bar = this.sound.inLead ? -1 : this.barAt(now);
    const turned = bar !== this.bar;
    this.bar = bar;
    for (const tell of this.listeners) tell(bar, now, turned);
  }

  // ---- loops: the sound itself goes round, this only says where ----

  setLoop(range) {
    this.range = range;
    const first = range && this.map[range[0]];
    const loop = range && {
      start: first[START],
      end: this.map[range[1]][END],
      lead: this.countsIn ? first[END] - first[START] : 0,
      beats: Math.max(1, Math.round(first[BEATS])),
    };
    // What goes round already is not disturbed.
    if (JSON.stringify(loop) === JSON.stringify(this.loop)) return;
    this.loop = loop;
    this.sound.setLoop(this.loop);
    this.tick();
  }

  setCountsIn(countsIn) {
    this.countsIn = countsIn;
    this.setLoop(this.range);
  }

  isInLoop() {
    return this.place >= this.loop.start && this.place < this.loop.end;
  }

  // ---- start and stop ----

  playFrom(bar) {
    this.goTo(bar < 0 ? 0 : this.map[bar][START]);
    return this.music.play();
  }

  toggle() {
    if (this.playing) {
      this.sound.pause();
      this.tick();
      return;
    }
    const atStart = this.loop && (!this.isInLoop() || this.place - this.loop.start < AT_START_S);
    if (atStart) this.sound.beginRound();
    this.tick();
    this.music.play();
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
