// What sounds on the page: the band of a level with the melody of the chosen instrument. Its
// files are fetched when the student first wants to hear something.

// In the folder a build makes, the public page lies one below the sounds it speaks of.
const BESIDE = /\/public\/(index\.html)?$/.test(location.pathname) ? "../" : "";
// From left to right as a small band stands, seen by the listener; the bass in the middle.
const BAND = ["bass", "chords", "drums", "count"];
const STANDS = { melody: 0, bass: -0.06, chords: -0.3, drums: 0.2, count: 0 };

class Music {
  // `usual` plays the melody in the finished mixes.
  constructor({ shelf, packs, measure, usual, onState, onTrouble }) {
    this.usual = usual;
    this.shelf = shelf;
    this.onState = onState;
    this.onTrouble = onTrouble;
    this.mixes = Band.isPossible;
    this.gains = {};
    const stretch = () => packs.text("page/stretch.js");
    this.sound = this.mixes ? new Band({ ...measure, openStretch: stretch, onState }) : new PlainSound({ onState });
  }

  // ---- what is heard ----

  take(level, instrument) {
    this.level = level;
    this.melody = null;
    this.progress = null;
    this.loading = null;
    if (this.mixes) {
      this.sound.take({ seconds: level.sound.seconds, clicks: level.clicks });
      for (const part of BAND) this.sound.part(part);
    } else this.sound.take({ address: BESIDE + level.files.demo });
    this.setInstrument(instrument);
  }

  // Another instrument's melody takes the place of the one that sounds as soon as it is here.
  setInstrument(instrument) {
    if (!this.mixes) {
      this.heardInstrument = this.usual;
      return;
    }
    const own = this.level.sound.melodies[instrument] ? instrument : Object.keys(this.level.sound.melodies)[0];
    this.heardInstrument = own;
    if (own === this.melody) return;
    const before = this.melody;
    this.melody = own;
    this.sound.part(`melody-${own}`, { late: Boolean(this.loading) });
    this.applyGains();
    if (!before) return;
    if (this.loading) this.readMelody(own, before);
    else this.sound.drop(`melody-${before}`);
  }

  setGains(gains) {
    this.gains = gains;
    this.applyGains();
  }

  applyGains() { this.sound.setGains(this.gains, STANDS); }

  // ---- fetching ----

  async load() {
    if (!this.mixes) return;
    this.loading ??= this.readAll();
    const loading = this.loading;
    try {
      await loading;
    } catch (error) {
      if (loading !== this.loading) return;
      // What failed may be tried again.
      this.loading = null;
      this.sound.pause();
      this.onTrouble("The sound could not be loaded. Its files belong into the folder audio beside the page.", error);
    }
  }

  readAll() {
    const { level, melody } = this;
    return Promise.all([this.read(level, level.sound.path, (part) => part), this.readMelody(melody, null)]);
  }

  async readMelody(instrument, before) {
    const { level } = this;
    const name = `melody-${instrument}`;
    const whole = this.read(level, level.sound.melodies[instrument], () => name, () => {
      if (before && this.sound.reaches(name, this.sound.place)) {
        this.sound.drop(`melody-${before}`);
        before = null;
      }
    });
    // The first is waited for by whoever loads it all; of another one is told here.
    if (before) whole.catch((error) => this.onTrouble("The melody of this instrument could not be loaded.", error));
    await whole;
    if (before) this.sound.drop(`melody-${before}`);
  }

  // A file of stems says in its first line what is in it.
  read(level, path, stemOf, after = () => {}) {
    return this.shelf.read(this.shelf.holds(path) ? path : BESIDE + path, async (name, base64) => {
      if (level !== this.level) return;
      const [, part, number] = name.split("/");
      if (part === undefined) {
        const { starts, pieces } = JSON.parse(new TextDecoder().decode(bytesOf(base64)));
        for (const [each, count] of Object.entries(pieces)) this.sound.expect(stemOf(each), { starts, pieces: count });
        return;
      }
      await this.sound.fill(stemOf(part), Number(number), bytesOf(base64));
      if (level !== this.level) return;
      this.tellProgress();
      after();
    });
  }

  // How much of the music is here, by the player of whom there is least.
  tellProgress() {
    const { seconds } = this.level.sound;
    const there = [`melody-${this.melody}`, ...BAND]
      .map((name) => this.sound.held.get(name))
      .map((held) => (!held ? 0 : held.isWhole ? seconds : held.have));
    this.progress = Math.min(1, Math.min(...there) / seconds);
    this.onState();
  }

  // ---- control ----

  async play() {
    const played = this.sound.play();
    await new Promise((done) => setTimeout(done));
    await this.load();
    await played;
  }
}
