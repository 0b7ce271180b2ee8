// The band's arithmetic: stems mixed, looped and moved in, in the input domain, then stretched.
//
// The same class runs in an AudioWorklet and, where there is none, behind a script processor; it
// takes its orders by `tell`. Everything it needs is inside it, because its text is what the
// worklet is made from.
//
// Places are samples of the input: 0 is the first click of the count-in. A bar of clicks before a
// round of a loop is a stretch of places in front of the loop, heard as silence.

class Mixer {
  constructor(rate, report) {
    this.rate = rate;
    this.report = report;
    this.seam = Math.round(rate / 200); // 5 ms: from the end of a round into its beginning
    this.slide = Math.round(rate / 50); // 20 ms: how long a slider's move takes to be heard
    this.patchLength = Math.round(rate / 200);
    this.reportEvery = Math.round(rate / 24);
    this.high = this.clickOf(1500);
    this.low = this.clickOf(1000);
    this.last = [0, 0];
    this.voices = [];
    this.stretch = null;
    this.speed = 1;
    this.loop = null;
    this.on = false;
    this.clickGain = 0;
    this.leadGain = 0.5;
    this.unreported = 0;
    this.take({ length: 0, clicks: [] });
  }

  // A short tone without a corner at either end.
  clickOf(hertz) {
    const length = Math.round(this.rate / 20);
    return Float32Array.from({ length }, (_, i) => {
      const rise = Math.min(1, i / (this.rate / 2000));
      return rise * Math.exp(-6 * i / length) * (1 - i / length) * Math.sin(2 * Math.PI * hertz * i / this.rate);
    });
  }

  // ---- orders ----

  tell({ number, ...orders }) {
    const acts = { play: "setPlaying", loop: "setLoop", speed: "setSpeed", stretch: "openStretch" };
    for (const [name, value] of Object.entries(orders)) this[acts[name] ?? name](value);
    if (number === undefined) return;
    this.number = Math.max(number, this.number ?? 0);
    this.tellWhere();
  }

  // Another music: `length` in samples, `clicks` with the places of the beats, [place, strong].
  take({ length, clicks }) {
    this.length = length;
    this.clicks = clicks;
    this.parts = new Map();
    this.left = 0;
    this.loop = null;
    this.rounds = 0;
    this.place(0);
  }

  // A player; one that is `late` is no reason to wait for its sound.
  part({ name, late }) {
    this.parts.set(name, { pieces: [], have: 0, whole: false, late, now: [0, 0], goal: [0, 0], step: [0, 0] });
  }

  drop(name) { this.parts.delete(name); }

  // The next piece of a player's sound, whole numbers of 16 bits.
  fill({ name, samples, isLast }) {
    const part = this.parts.get(name);
    if (!part) return;
    if (samples.length) part.pieces.push({ at: part.have, samples });
    part.have += samples.length;
    part.whole = isLast;
    if (isLast) part.late = false;
  }

  // How loud each player is, left and right; `click` the clicks.
  gains({ parts, click, lead }) {
    this.clickGain = click;
    this.leadGain = lead;
    for (const [name, goal] of Object.entries(parts)) {
      const part = this.parts.get(name);
      if (part) part.goal = goal;
    }
    // Nobody hears a slide before the first sound.
    this.left = this.on ? this.slide : 0;
    for (const part of this.parts.values()) {
      if (!this.left) part.now = part.goal;
      part.step = part.goal.map((goal, side) => (this.left ? (goal - part.now[side]) / this.left : 0));
    }
  }

  setPlaying(on) {
    if (on === this.on) return;
    // Sound that a stretcher has taken in but not yet given is taken in again.
    if (!on) this.place(this.heard().place, this.heard().inLead);
    this.on = on;
    this.patch = true;
    this.unprimed = true;
  }

  place(place, inLead = false) {
    this.at = Math.round(place);
    this.inLead = inLead;
    this.taken = 0; // input since then
    this.given = 0; // how much of that has been heard
    this.fraction = 0;
    this.stretches = [{ from: 0, at: this.at, inLead }];
    this.unprimed = true;
    this.tailLeft = 0;
    this.over = 0; // how much of that was heard when it began, less than a sample
    this.patch = true;
  }

  // Begin a round, with its clicks if it has some.
  round() {
    this.place(this.loop.start - this.loop.lead, this.loop.lead > 0);
  }

  setLoop(loop) {
    const { place, inLead } = this.heard();
    this.loop = loop && { ...loop, seam: Math.min(this.seam, (loop.end - loop.start) >> 1) };
    this.rounds = 0;
    if (inLead || this.at !== place || this.stretches.length > 1) this.place(inLead && loop ? loop.start : Math.max(0, place));
    if (loop && (this.at < loop.start || this.at >= loop.end)) this.place(loop.start);
  }

  setSpeed(speed) {
    const { place, inLead } = this.heard();
    const slides = speed !== 1 && this.speed !== 1 && !this.unprimed;
    this.speed = speed;
    // Between two stretched tempos the stretcher just goes on.
    if (slides) this.given = Math.max(0, this.taken - this.stretch.ahead(speed));
    else this.place(place, inLead);
  }

  openStretch() {
    SignalsmithStretch().then((wasm) => {
      wasm._main?.();
      // Blocks of 120 ms, a quarter of that from one to the next, the work spread out evenly.
      wasm._configure(2, Math.round(this.rate * 0.12), Math.round(this.rate * 0.03), true);
      const room = Math.round(this.rate / 2);
      const start = wasm._setBuffers(2, room);
      const places = [0, 1, 2, 3].map((n) => start + 4 * room * n);
      this.stretch = {
        input: wasm._inputLatency(),
        output: wasm._outputLatency(),
        reset: () => wasm._reset(),
        ahead: (speed) => wasm._inputLatency() + Math.round(wasm._outputLatency() * speed),
        // The memory may have grown since, so that views of it do not last.
        view: (n, length) => new Float32Array(wasm.HEAP8.buffer, places[n], length),
        process: (taken, given) => wasm._process(taken, given),
      };
      this.report({ stretches: true });
    }, (error) => this.report({ trouble: String(error) }));
  }

  // ---- where we are ----

  heard() {
    let found = this.stretches[0];
    for (const stretch of this.stretches) if (stretch.from <= this.given) found = stretch;
    const place = found.at + this.given - found.from;
    const start = this.loop ? this.loop.start : 0;
    return { place: Math.round(place), inLead: found.inLead && place < start };
  }

  tellWhere() {
    this.unreported = 0;
    const { place, inLead } = this.heard();
    this.report({ place: place / this.rate, inLead, playing: this.on, waits: Boolean(this.waits), rounds: this.rounds, number: this.number });
  }

  // ---- sound ----

  process(left, right) {
    const count = left.length;
    left.fill(0);
    right.fill(0);
    const waited = this.waits;
    this.waits = false;
    if (this.on) {
      const stretched = this.speed !== 1 && this.stretch;
      if (stretched) this.stretched(left, right, count);
      else if (this.lacks(count)) this.wait(waited);
      else {
        this.clickThrough(count);
        this.pull(left, right, count);
        this.given = this.taken;
      }
    }
    this.ring(left, right);
    this.smooth(left, right);
    if (this.on && !this.loop && this.heard().place >= this.length && this.length) this.finish();
    this.unreported += count;
    if ((this.on && this.unreported >= this.reportEvery) || waited !== this.waits) this.tellWhere();
  }

  finish() {
    this.place(0);
    this.on = false;
    this.tellWhere();
  }

  wait(waited) {
    this.waits = true;
    if (!waited) this.patch = true;
  }

  // Whether the sound of the next places has not come yet.
  lacks(count) {
    if (this.inLead) return false;
    const end = Math.min(this.at + count, this.loop ? this.loop.end : Infinity);
    for (const part of this.parts.values()) {
      if (!part.whole && !part.late && part.have < end) return true;
    }
    return !this.parts.size;
  }

  stretched(left, right, count) {
    const waited = this.waits;
    for (let done = 0; done < count;) {
      // As far as the round goes that is heard: the sound of the next one is in the stretcher already.
      const end = this.stretches[1]?.from ?? Infinity;
      const some = Math.min(count - done, Math.ceil((end - this.given) / this.speed));
      if (!this.prime() || !this.advance(left, right, done, some)) {
        this.wait(waited);
        return;
      }
      done += some;
      if (this.given >= end) this.restart(end);
    }
  }

  // Fill an empty stretcher, so that what it gives next is what sounds where we are.
  prime() {
    if (!this.unprimed) return true;
    const { stretch } = this;
    const ahead = stretch.ahead(this.speed);
    if (this.lacks(ahead)) return false;
    stretch.reset();
    this.pass(ahead, stretch.output);
    this.given = this.over;
    this.over = 0;
    this.unprimed = false;
    return true;
  }

  advance(left, right, from, count) {
    const wanted = count * this.speed + this.fraction;
    const take = Math.floor(wanted);
    if (this.lacks(take)) return false;
    this.fraction = wanted - take;
    this.clickThrough(count, from);
    this.pass(take, count);
    [left, right].forEach((side, n) => {
      side.set(this.stretch.view(2 + n, count), from);
      for (let i = 0; i < count && i < this.tailLeft; i += 1) {
        const share = (this.tailLeft - i) / this.seam;
        side[from + i] += share * (this.tail[n][this.seam - this.tailLeft + i] - side[from + i]);
      }
    });
    this.tailLeft = Math.max(0, this.tailLeft - count);
    this.given += count * this.speed;
    return true;
  }

  // A stretcher gives the same sound a little earlier or later each time, as its blocks happen to
  // fall. So every round begins with an empty one, and all of them are alike; the end of the
  // round before goes over into it.
  restart(end) {
    const next = this.stretches[1];
    const take = Math.round(this.seam * this.speed);
    const goesOver = !this.lacks(take);
    if (goesOver) {
      this.pass(take, this.seam);
      this.tail = [2, 3].map((n) => this.stretch.view(n, this.seam).slice());
    }
    const over = this.given - end;
    this.place(next.at, next.inLead);
    this.tailLeft = goesOver ? this.seam : 0;
    this.over = over;
    this.patch = false;
  }

  pass(take, give) {
    const left = this.stretch.view(0, take), right = this.stretch.view(1, take);
    left.fill(0);
    right.fill(0);
    this.pull(left, right, take);
    this.stretch.process(take, give);
  }

  // Mix the next input samples, going from the end of a round to its beginning.
  pull(left, right, count) {
    for (let done = 0; done < count;) {
      let some = count - done;
      const { loop } = this;
      const edge = loop && (this.inLead ? loop.start : loop.end);
      if (loop && edge > this.at) {
        // Up to where the seam begins, or through it.
        const seam = edge - loop.seam;
        some = Math.min(some, this.at < seam ? seam - this.at : edge - this.at);
      }
      if (this.left) some = Math.min(some, this.left);
      this.add(left, right, done, some);
      done += some;
      this.at += some;
      this.taken += some;
      this.moveGains(some);
      if (loop && this.at === edge) this.turn();
    }
  }

  turn() {
    const { loop } = this;
    if (this.inLead) this.inLead = false;
    else {
      this.rounds += 1;
      this.inLead = loop.lead > 0;
      this.at = loop.start - loop.lead;
      this.stretches.push({ from: this.taken, at: this.at, inLead: this.inLead });
    }
    while (this.stretches.length > 1 && this.stretches[1].from <= this.given) this.stretches.shift();
  }

  // In the seam the end of a round goes over into what stands before its beginning, so that the
  // first note has its whole attack and falls exactly where it must.
  add(left, right, from, count) {
    const { loop, at } = this;
    const edge = loop && (this.inLead ? loop.start : loop.end);
    const inSeam = loop && at < edge && at >= edge - loop.seam;
    if (!inSeam) {
      if (!this.inLead) this.addParts(left, right, from, count, at, 1, 0);
      return;
    }
    const slope = 1 / loop.seam;
    const share = (at - (edge - loop.seam)) * slope;
    if (this.inLead) this.addParts(left, right, from, count, at, share, slope);
    else {
      this.addParts(left, right, from, count, at, 1 - share, -slope);
      if (!loop.lead) this.addParts(left, right, from, count, at - (loop.end - loop.start), share, slope);
    }
  }

  addParts(left, right, from, count, at, share, slope) {
    for (const { pieces, now, step } of this.parts.values()) {
      if (!now[0] && !now[1] && !step[0] && !step[1]) continue;
      for (const piece of pieces) {
        const first = Math.max(at, piece.at), end = Math.min(at + count, piece.at + piece.samples.length);
        for (let place = first; place < end; place += 1) {
          const n = place - at;
          const sample = piece.samples[place - piece.at] / 32768 * (share + slope * n);
          left[from + n] += sample * (now[0] + step[0] * n);
          right[from + n] += sample * (now[1] + step[1] * n);
        }
      }
    }
  }

  moveGains(count) {
    if (!this.left) return;
    this.left -= count;
    for (const part of this.parts.values()) {
      part.now = this.left ? part.now.map((now, side) => now + part.step[side] * count) : part.goal;
      if (!this.left) part.step = [0, 0];
    }
  }

  // ---- clicks: laid over what is heard, never stretched ----

  clickThrough(count, delay = 0) {
    const end = this.given + count * this.speed;
    this.stretches.forEach((stretch, n) => {
      const from = Math.max(this.given, stretch.from);
      const to = Math.min(end, this.stretches[n + 1]?.from ?? Infinity);
      if (from >= to) return;
      const first = stretch.at + from - stretch.from, last = stretch.at + to - stretch.from;
      const start = stretch.inLead ? this.loop.start : -Infinity;
      const late = delay + (from - this.given) / this.speed;
      if (first < start) this.leadClicks(first, Math.min(last, start), late);
      if (last > start && this.clickGain) this.beatClicks(Math.max(first, start), last, late + Math.max(0, start - first) / this.speed);
    });
    // A round that has not been taken in yet may begin within this very block.
    const { loop } = this;
    if (loop && this.given === this.taken && !this.inLead) {
      const beyond = this.at + (end - this.given) - loop.end;
      if (beyond > 0 && this.at <= loop.end) {
        const late = delay + (loop.end - this.at) / this.speed;
        if (loop.lead) this.leadClicks(loop.start - loop.lead, loop.start - loop.lead + beyond, late);
        else if (this.clickGain) this.beatClicks(loop.start, loop.start + beyond, late);
      }
    }
  }

  leadClicks(first, last, late) {
    const { start, lead, beats } = this.loop;
    for (let beat = 0; beat < beats; beat += 1) {
      const place = start - lead + lead * beat / beats;
      if (place >= first && place < last) this.strike(late + (place - first) / this.speed, beat === 0, this.leadGain);
    }
  }

  beatClicks(first, last, late) {
    const bound = this.loop && first < this.loop.end ? Math.min(last, this.loop.end) : last;
    for (const [place, strong] of this.clicks) {
      if (place >= bound) return;
      if (place >= first) this.strike(late + (place - first) / this.speed, strong, this.clickGain);
    }
  }

  strike(delay, strong, gain) {
    this.voices.push({ samples: strong ? this.high : this.low, next: -Math.round(delay), gain });
  }

  ring(left, right) {
    for (const voice of this.voices) {
      const begin = Math.max(0, -voice.next);
      for (let i = begin; i < left.length && voice.next + i < voice.samples.length; i += 1) {
        const sample = voice.samples[voice.next + i] * voice.gain;
        left[i] += sample;
        right[i] += sample;
      }
      voice.next += left.length;
    }
    this.voices = this.voices.filter((voice) => voice.next < voice.samples.length);
  }

  // Where the sound was moved, the jump is drawn out over some milliseconds; and nothing leaves
  // full scale.
  smooth(left, right) {
    [left, right].forEach((side, n) => {
      if (this.patch) {
        this.jump ??= [0, 0];
        this.jump[n] = this.last[n] - side[0];
        this.jumpLeft = this.patchLength;
      }
    });
    this.patch = false;
    const count = left.length;
    const some = Math.min(count, this.jumpLeft ?? 0);
    for (let i = 0; i < some; i += 1) {
      const share = (this.jumpLeft - i) / this.patchLength;
      left[i] += this.jump[0] * share;
      right[i] += this.jump[1] * share;
    }
    this.jumpLeft = (this.jumpLeft ?? 0) - some;
    for (const side of [left, right]) {
      for (let i = 0; i < count; i += 1) {
        if (side[i] > 1) side[i] = 1;
        else if (side[i] < -1) side[i] = -1;
      }
    }
    this.last = [left[count - 1], right[count - 1]];
  }
}

// What an AudioWorklet runs; it is sent there as text.
function registerBand() {
  registerProcessor("lesson-band", class extends AudioWorkletProcessor {
    constructor() {
      super();
      this.mixer = new Mixer(sampleRate, (facts) => this.port.postMessage({ ...facts, time: currentTime }));
      this.port.onmessage = (event) => this.mixer.tell(event.data);
    }

    process(_, [output]) {
      this.mixer.process(output[0], output[1]);
      return true;
    }
  });
}
