// The clicks before each round of a loop. They are made here, because the recording's own
// count-in stands only at its beginning.

const CLICK_HZ = { first: 1500, other: 1000 };
const CLICK_S = 0.05;

class Clicks {
  constructor() {
    this.context = null;
    this.sounding = [];
  }

  // A browser lets sound begin only after the student has pressed something.
  wake() {
    this.context ??= new AudioContext();
    if (this.context.state === "suspended") this.context.resume();
  }

  // Click at these moments, in seconds from now.
  plan(moments) {
    const now = this.context.currentTime;
    this.sounding = moments.map((moment, place) =>
      this.click(now + moment, place === 0 ? CLICK_HZ.first : CLICK_HZ.other));
  }

  click(start, frequency) {
    const tone = this.context.createOscillator();
    const level = this.context.createGain();
    tone.frequency.value = frequency;
    level.gain.setValueAtTime(0.4, start);
    level.gain.exponentialRampToValueAtTime(0.001, start + CLICK_S);
    tone.connect(level).connect(this.context.destination);
    tone.start(start);
    tone.stop(start + CLICK_S);
    return tone;
  }

  stop() {
    for (const tone of this.sounding) tone.stop();
    this.sounding = [];
  }
}
