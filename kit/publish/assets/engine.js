// The sound of a page or a notebook: a band of stems on one clock, played by a `Mixer`.
//
// `Band` opens an AudioContext when the student first wants sound, has it run a `Mixer` in an
// AudioWorklet (or behind a script processor, where pages have none: old browsers, and pages
// served without encryption), decodes the pieces of each stem and hands them over in order.

const SOUND_HZ = 48000; // what the pieces are cut at
const LATEST_S = 1.5; // a player who comes later is taken in when so much of him lies ahead

class Band {
  // `measure` is a piece with a click at sample `at`; `openStretch` gives the stretcher's text.
  constructor({ measure, lead, overlap, openStretch, onState }) {
    Object.assign(this, { measure, lead, overlap, openStretch, onState });
    this.facts = { place: 0, playing: false, waits: false, rounds: 0, time: 0 };
    this.acts = [];
    this.sent = 0;
    this.speed = 1;
    this.wantedSpeed = 1;
    this.loop = null;
    this.turn = 0;
    this.queues = new Map();
    this.held = new Map();
  }

  static get isPossible() {
    return typeof AudioContext === "function" && typeof OfflineAudioContext === "function";
  }

  // ---- opening: in the student's own gesture, or a browser keeps silent ----

  open() {
    this.opening ??= this.start();
    return this.opening;
  }

  async start() {
    try {
      this.context = new AudioContext({ sampleRate: SOUND_HZ, latencyHint: "balanced" });
    } catch (error) {
      if (error.name !== "NotSupportedError") throw error;
      this.context = new AudioContext();
    }
    this.rate = this.context.sampleRate;
    // The context is made in the gesture; the rest can wait until the button has answered.
    await new Promise((done) => setTimeout(done));
    const node = this.context.audioWorklet ? await this.worklet() : this.script();
    node.connect(this.context.destination);
    await this.measureDecoder();
    this.isOpen = true;
    // In their order, and before whatever waits for the opening itself.
    for (const act of this.acts.splice(0)) act();
  }

  async worklet() {
    // A page opened from disk may load code from a data: address only.
    const text = `${Mixer}\n(${registerBand})();`;
    await this.context.audioWorklet.addModule(`data:text/javascript,${encodeURIComponent(text)}`);
    const node = new AudioWorkletNode(this.context, "lesson-band", { numberOfInputs: 0, outputChannelCount: [2] });
    node.port.onmessage = (event) => this.hear(event.data);
    this.post = (order, moved) => node.port.postMessage(order, moved ?? []);
    this.addStretch = async (text) => {
      const code = `${text}\nglobalThis.SignalsmithStretch = SignalsmithStretch;`;
      await this.context.audioWorklet.addModule(`data:text/javascript,${encodeURIComponent(code)}`);
    };
    return node;
  }

  script() {
    const node = this.context.createScriptProcessor(2048, 0, 2);
    const mixer = new Mixer(this.rate, (facts) => this.hear({ ...facts, time: this.context.currentTime }));
    node.onaudioprocess = ({ outputBuffer }) => mixer.process(outputBuffer.getChannelData(0), outputBuffer.getChannelData(1));
    this.post = (order) => mixer.tell(order);
    this.addStretch = async (text) => {
      globalThis.SignalsmithStretch = new Function(`${text}\nreturn SignalsmithStretch;`)();
    };
    this.kept = node; // or the collector takes it away
    return node;
  }

  // Decoders put more or less silence in front; a click whose place is known tells how much.
  async measureDecoder() {
    const click = await this.decoded(bytesOf(this.measure.base64));
    let highest = 0;
    for (let i = 1; i < click.length; i += 1) if (Math.abs(click[i]) > Math.abs(click[highest])) highest = i;
    this.delay = highest - Math.round(this.measure.at * this.rate / SOUND_HZ);
  }

  async decoded(bytes) {
    const room = new OfflineAudioContext(1, 1, this.rate);
    // The older form of the call, which every browser has.
    const buffer = await new Promise((done, failed) => {
      const promise = room.decodeAudioData(bytes.buffer, done, failed);
      promise?.catch(failed);
    });
    return buffer.getChannelData(0);
  }

  // ---- the music ----

  // `seconds` long, with the places of the `clicks` ([second, strong]).
  take({ seconds, clicks }) {
    this.turn += 1;
    this.queues.clear();
    this.held.clear();
    this.loop = null;
    this.facts = { ...this.facts, place: 0, playing: false, waits: false, rounds: 0, inLead: false };
    this.command(() => ({
      take: { length: this.samples(seconds), clicks: clicks.map(([second, strong]) => [Math.round(second * this.rate), strong]) },
    }));
  }

  // What a command changes is no more what earlier reports tell of.
  command(order) {
    const number = ++this.sent;
    this.whenOpen(() => this.post({ ...order(), number }));
  }

  // Some orders need the rate, which is known once the context is there.
  whenOpen(act) {
    const turn = this.turn;
    if (this.isOpen) act();
    else this.acts.push(() => { if (turn === this.turn) act(); });
  }

  samples(seconds) { return Math.round(seconds * this.rate); }

  part(name, { late = false } = {}) {
    this.held.set(name, { have: 0, tail: null });
    this.whenOpen(() => this.post({ part: { name, late } }));
  }

  // How many pieces a player's stem has, and where each begins (samples at 48 kHz).
  expect(name, { starts, pieces }) {
    const held = this.held.get(name);
    if (!held) return;
    Object.assign(held, { starts, pieces });
    if (!pieces) this.fill(name, 0, null);
  }

  drop(name) {
    this.held.delete(name);
    this.queues.delete(name);
    this.whenOpen(() => this.post({ drop: name }));
  }

  // The next piece of a player's stem; pieces come in order.
  fill(name, number, bytes) {
    const turn = this.turn, held = this.held.get(name);
    if (!held) return Promise.resolve();
    const isLast = number >= held.pieces - 1;
    const earlier = this.queues.get(name) ?? Promise.resolve();
    const now = earlier.then(async () => {
      await this.open();
      const sound = bytes ? await this.decoded(bytes) : new Float32Array(0);
      if (turn !== this.turn || this.held.get(name) !== held) return;
      const samples = this.cut(held, sound, number, isLast);
      held.have += samples.length / this.rate;
      held.isWhole = isLast;
      this.post({ fill: { name, samples, isLast } }, [samples.buffer]);
    });
    this.queues.set(name, now);
    return now;
  }

  // Take a piece out of what was decoded, faded into from the end of the one before.
  cut(held, sound, number, isLast) {
    const scale = this.rate / SOUND_HZ;
    const first = this.delay + Math.round(this.lead * scale);
    const overlap = Math.round(this.overlap * scale);
    const start = Math.round(held.starts[number] * scale), next = Math.round(held.starts[number + 1] * scale);
    const length = isLast ? Math.max(0, sound.length - first) : next - start;
    const samples = new Int16Array(length);
    for (let i = 0; i < length; i += 1) {
      let sample = sound[first + i] ?? 0;
      if (held.tail && i < overlap) {
        const share = i / overlap;
        sample = sample * share + held.tail[i] * (1 - share);
      }
      samples[i] = Math.max(-32768, Math.min(32767, Math.round(sample * 32768)));
    }
    held.tail = isLast ? null : sound.slice(first + length, first + length + overlap);
    return samples;
  }

  // Whether so much of a player is here that nothing is missed at this place.
  reaches(name, place) {
    const held = this.held.get(name);
    return Boolean(held) && (held.isWhole || held.have > place + LATEST_S);
  }

  // ---- control ----

  get playing() { return this.facts.playing; }

  get waits() { return this.facts.waits; }

  get rounds() { return this.facts.rounds; }

  get inLead() { return this.facts.playing && this.where().inLead; }

  get place() { return this.where().place; }

  // The last report, taken on to this very moment, as far as it has been heard.
  where() {
    const { facts, loop } = this;
    if (!facts.playing || facts.waits || !this.context) return facts;
    const latency = this.context.outputLatency || this.context.baseLatency || 0;
    let place = facts.place + (this.context.currentTime - facts.time - latency) * this.speed;
    let inLead = facts.inLead;
    if (loop) {
      const length = loop.end - loop.start + loop.lead;
      if (facts.place < loop.end && place >= loop.end) {
        place -= length;
        inLead = loop.lead > 0;
      } else if (facts.rounds > 0 && facts.place >= loop.start - loop.lead && place < loop.start - loop.lead) {
        // Not yet heard: the end of the round before.
        place += length;
        inLead = false;
      }
      if (place >= loop.start) inLead = false;
    }
    return { place: Math.max(place, inLead ? -Infinity : 0), inLead };
  }

  async play() {
    this.wanted = true;
    this.facts = { ...this.facts, playing: true, waits: true };
    this.onState();
    const number = ++this.sent, turn = this.turn;
    await this.open();
    // Nobody wants to hear the other tempo first; whoever asked for this one is told of failure.
    if (this.wantedSpeed !== this.speed) await this.stretching().catch(() => null);
    // A browser may refuse sound before the first touch of the page.
    await this.context.resume();
    if (this.wanted && turn === this.turn) this.post({ play: true, number });
  }

  pause() {
    this.wanted = false;
    this.facts = { ...this.facts, ...this.where(), playing: false, waits: false };
    this.command(() => ({ play: false }));
    this.onState();
  }

  seek(seconds) {
    this.facts = { ...this.facts, place: seconds, inLead: false, time: this.context?.currentTime ?? 0 };
    this.command(() => ({ place: this.samples(seconds) }));
  }

  // `start` and `end` in seconds; `lead` seconds of clicks in front of each round, so many `beats`.
  setLoop(loop) {
    this.loop = loop;
    const outside = loop && !(this.facts.place >= loop.start && this.facts.place < loop.end);
    this.facts = { ...this.facts, inLead: false, rounds: 0, place: outside ? loop.start : this.facts.place };
    this.command(() => ({
      loop: loop && {
        start: this.samples(loop.start), end: this.samples(loop.end), beats: loop.beats,
        lead: this.samples(loop.lead),
      },
    }));
  }

  // Begin a round of the loop, with its clicks.
  beginRound() {
    const { start, lead } = this.loop;
    this.facts = { ...this.facts, place: start - lead, inLead: lead > 0, time: this.context?.currentTime ?? 0 };
    this.command(() => ({ round: true }));
  }

  // A share of the tempo; the stretcher is fetched when it is first needed.
  async setSpeed(speed) {
    this.wantedSpeed = speed;
    if (speed !== 1) await this.stretching();
    if (this.wantedSpeed !== speed) return;
    const { place } = this.where();
    this.facts = { ...this.facts, place, time: this.context?.currentTime ?? 0 };
    this.speed = speed;
    this.command(() => ({ speed }));
  }

  stretching() {
    this.stretcher ??= (async () => {
      const text = await this.openStretch();
      await this.open();
      await this.addStretch(text);
      const ready = new Promise((done, failed) => { this.stretchAnswer = { done, failed }; });
      this.post({ stretch: true });
      await ready;
    })();
    // What failed may be tried again.
    this.stretcher.catch(() => { this.stretcher = null; });
    return this.stretcher;
  }

  // How loud each player is, 0 to 1, and where he stands, -1 (left) to 1.
  setGains(gains, stands) {
    const parts = {};
    for (const name of this.held.keys()) {
      const player = name.split("-")[0];
      const gain = gains[player] ?? 0, stand = stands[player] ?? 0;
      parts[name] = [gain * Math.min(1, 1 - stand), gain * Math.min(1, 1 + stand)];
    }
    this.whenOpen(() => this.post({ gains: { parts, click: gains.click ?? 0, lead: gains.lead ?? 0.5 } }));
  }

  hear(facts) {
    if (facts.stretches) this.stretchAnswer?.done();
    else if (facts.trouble) this.stretchAnswer?.failed(new Error(facts.trouble));
    else {
      if ((facts.number ?? 0) < this.sent) return;
      const changed = facts.playing !== this.facts.playing || facts.waits !== this.facts.waits;
      this.facts = facts;
      this.wanted = facts.playing;
      if (changed) this.onState();
    }
  }
}
