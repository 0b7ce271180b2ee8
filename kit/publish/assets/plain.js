// Where a browser has no Web Audio: the finished mixes beside the page, by an audio element.
// Tempo and loops work as well as the element can; nobody can be turned up or down.

class PlainSound {
  constructor({ onState }) {
    this.audio = new Audio();
    this.audio.preload = "none";
    this.audio.preservesPitch = true;
    this.loop = null;
    this.rounds = 0;
    for (const kind of ["play", "playing", "pause", "waiting", "ended"]) this.audio.addEventListener(kind, onState);
    this.audio.addEventListener("timeupdate", () => this.turn());
  }

  take({ address }) {
    this.audio.src = address;
    this.loop = null;
  }

  get playing() { return !this.audio.paused && !this.audio.ended; }

  get waits() { return this.playing && this.audio.readyState < 3; }

  get inLead() { return false; }

  get place() { return this.audio.currentTime; }

  play() { return this.audio.play(); }

  pause() { this.audio.pause(); }

  seek(seconds) { this.audio.currentTime = seconds; }

  setLoop(loop) {
    this.loop = loop;
    this.rounds = 0;
    if (loop && !(this.place >= loop.start && this.place < loop.end)) this.seek(loop.start);
  }

  beginRound() { this.seek(this.loop.start); }

  turn() {
    if (!this.loop || this.place < this.loop.end) return;
    this.rounds += 1;
    this.beginRound();
  }

  async setSpeed(speed) {
    this.audio.defaultPlaybackRate = this.audio.playbackRate = speed;
  }

  setGains() {}
}
