// How loud each player is, and all together; remembered for each lesson. A ready mix sets the
// sliders, and a slider that is moved makes a mix of one's own.

// Who is silent or sounds besides in each ready mix; everybody else is as usual.
const READY = {
  demo: {}, backing: { melody: 0 }, melody: { bass: 0, chords: 0, drums: 0 },
  "no-bass": { melody: 0, bass: 0 }, "no-chords": { melody: 0, chords: 0 },
  "no-drums": { melody: 0, drums: 0 },
  "melody-click": { bass: 0, chords: 0, drums: 0, click: 85 },
  click: { melody: 0, bass: 0, chords: 0, drums: 0, click: 85 },
};
const USUAL = { melody: 85, bass: 85, chords: 85, drums: 85, click: 0 };
// Quiet at first: an amplifier is turned up more easily than an ear is mended.
const USUAL_ALL = 80;
const OWN = "own";

// Half the way is about a third as loud: near to how loudness is felt.
const gainOf = (value) => (value / 100) ** 1.6;

class Mix {
  constructor({ sliders, menu, key, onGains }) {
    this.sliders = sliders;
    this.menu = menu;
    this.key = key;
    this.onGains = onGains;
    const kept = recall(key, {});
    for (const [player, slider] of Object.entries(sliders)) {
      const usual = player === "all" ? USUAL_ALL : USUAL[player];
      const value = Number(kept?.[player] ?? usual);
      slider.value = Number.isFinite(value) ? value : usual;
      slider.addEventListener("input", () => this.changed());
    }
    menu.addEventListener("change", () => this.choose(menu.value));
    this.changed();
  }

  choose(name) {
    if (!READY[name]) return;
    const wanted = { ...USUAL, ...READY[name] };
    for (const [player, value] of Object.entries(wanted)) if (this.sliders[player]) this.sliders[player].value = value;
    this.changed();
  }

  value(player) { return Number(this.sliders[player]?.value ?? 0); }

  changed() {
    const values = Object.fromEntries(Object.keys(this.sliders).map((player) => [player, this.value(player)]));
    for (const [player, slider] of Object.entries(this.sliders)) {
      slider.setAttribute("aria-valuetext", values[player] ? `${values[player]} %` : "silent");
    }
    const own = Object.entries(READY).find(([, mix]) =>
      Object.entries({ ...USUAL, ...mix }).every(([player, value]) => values[player] === value));
    this.menu.value = own ? own[0] : OWN;
    remember(this.key, values);
    this.onGains(this.gains());
  }

  gains() {
    const all = gainOf(this.value("all"));
    const gains = Object.fromEntries(Object.keys(USUAL).map((player) => [player, all * gainOf(this.value(player))]));
    // The count-in of the band goes with all; the one of a loop too.
    return { ...gains, click: gains.click / 2, count: all * gainOf(USUAL.drums), lead: all / 2 };
  }
}
