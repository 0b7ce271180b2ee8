// The audio and its bar-to-second map. Everything on the page that moves asks this clock.
// A bar of the map is [start, end, sheet index, form index, number, section, kind, whether a
// passage begins, whether the sheet's notes are played].

const START = 0, END = 1, SHEET = 2, FORM = 3, NUMBER = 4, SECTION = 5, KIND = 6;
const BEGINS = 7, PLAYED = 8;
const KIND_WORDS = { head: "Head", solo: "Solo", tag: "Tag" };

class Clock {
  constructor(audio) {
    this.audio = audio;
    this.map = [];
    this.countInEnd = 0;
    this.loop = null;
    this.listeners = [];
    this.bar = -1;
    this.urls = new Map();
    audio.preservesPitch = true;
    const watch = () => {
      this.tick();
      requestAnimationFrame(watch);
    };
    requestAnimationFrame(watch);
  }

  // Take the sound of a level and mix; go on from the same place in the music.
  load(level, mix, keepPlace) {
    const wasPlaying = !this.audio.paused;
    const place = keepPlace ? this.audio.currentTime : 0;
    this.map = level.map;
    this.countInEnd = level.count_in_end;
    this.audio.src = this.addressOf(level.name, mix);
    this.audio.defaultPlaybackRate = this.audio.playbackRate;
    if (place > 0) this.audio.currentTime = place;
    this.bar = -2;
    return wasPlaying ? this.start() : Promise.resolve();
  }

  addressOf(level, mix) {
    const name = `${level}/${mix}`;
    if (!this.urls.has(name)) {
      const holder = document.querySelector(`script[data-audio="${name}"]`);
      const blob = new Blob([bytesOf(holder.textContent)], { type: holder.dataset.mime });
      this.urls.set(name, URL.createObjectURL(blob));
    }
    return this.urls.get(name);
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
    const now = this.audio.currentTime;
    if (this.loop && !this.audio.paused && now >= this.loop.end) {
      this.audio.currentTime = this.loop.start;
      return;
    }
    const bar = this.barAt(now);
    const turned = bar !== this.bar;
    this.bar = bar;
    for (const tell of this.listeners) tell(bar, now, turned);
  }

  playFrom(bar) {
    this.audio.currentTime = bar < 0 ? 0 : this.map[bar][START];
    return this.start();
  }

  // A browser may refuse sound before the first click, and a new source ends a pending start.
  async start() {
    try {
      await this.audio.play();
    } catch (error) {
      if (!["AbortError", "NotAllowedError"].includes(error.name)) throw error;
    }
  }

  describe(bar) {
    if (bar < 0) return "Count-in";
    const entry = this.map[bar];
    return `${KIND_WORDS[entry[KIND]]} ${entry[SECTION]}, bar ${entry[NUMBER]}`;
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
