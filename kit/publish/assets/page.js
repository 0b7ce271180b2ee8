// The page: what is chosen, and everything that follows from it.

const facts = JSON.parse(unpacked(one('script[data-pack="lesson"]').textContent));
const levelNamed = (name) => facts.levels.find((level) => level.name === name);

const chosen = {
  instrument: facts.instruments.some((each) => each.slug === recall("instrument", ""))
    ? recall("instrument", "")
    : facts.default_instrument,
  level: facts.default_level,
};
// What is really drawn; the page never names another instrument than that of its notes.
let drawn = { instrument: facts.default_instrument, level: facts.default_level };

const shelf = new Shelf();
const packs = new Packs(shelf);
const music = new Music({ shelf, packs, measure: facts.measure, usual: facts.default_instrument, onState: showState, onTrouble: tellTrouble });
const clock = new Clock(music);
const score = new Score(one(".sheet"), (sheetBar) => playWhere((entry) => entry[SHEET] === sheetBar));
const strip = new Strip(one(".strip"), clock, (bar) => clock.playFrom(bar));
const loops = new Loops(clock, score);
const stand = new Stand(score);
const mix = new Mix({
  sliders: Object.fromEntries([...document.querySelectorAll("[data-player]")].map((slider) => [slider.dataset.player, slider])),
  menu: one("#mix"),
  key: `mix.${facts.slug}`,
  onGains: (gains) => music.setGains(gains),
});
const figures = new Figures({ slug: facts.slug, usual: facts.default_instrument, packs, breath, act: {
  playFormBar: (formBar) => playWhere((entry) => entry[FORM] === formBar),
  playMix,
} });

function tellTrouble(words, error) {
  one("#sound-trouble").textContent = words;
  if (error) console.info(error);
}

// Play the pass of a bar that comes next from where we are, or else its first.
function playWhere(matches) {
  const places = clock.map.flatMap((entry, place) => (matches(entry) ? [place] : []));
  if (!places.length) return;
  clock.playFrom(places.find((place) => place >= clock.bar) ?? places[0]);
}

async function playMix(level, name) {
  if (level && levelNamed(level)) await chooseLevel(level);
  if (name) mix.choose(name);
  await clock.playFrom(-1);
}

// ---- choices ----

let drawing = 0;

// Let the browser answer the student before more is done; a hidden page paints nothing.
function breath() {
  return new Promise((done) => {
    requestAnimationFrame(() => setTimeout(done));
    setTimeout(done, 100);
  });
}

async function draw() {
  const turn = ++drawing;
  const { level, instrument } = chosen;
  const shown = facts.instruments.find((each) => each.slug === instrument);
  let pack;
  // Notes of another key than the one that is named are not left to be read.
  one(".sheet").classList.toggle("waits", drawn.instrument !== instrument || drawn.level !== level);
  // At once, while the student expects the page to move.
  one(".level-note").textContent = levelNamed(level).note;
  one("#notes-trouble").textContent = "";
  try {
    await breath();
    pack = await packs.named(`${level}/${instrument}`);
    await breath();
  } catch (error) {
    if (turn !== drawing) return;
    console.info(error);
    goBack(shown);
    return;
  }
  if (turn !== drawing) return;
  drawn = { level, instrument };
  score.show(pack);
  score.lightAgain();
  document.documentElement.dataset.notes = `${level}/${instrument}`;
  one(".sheet").classList.remove("waits");
  one("#instrument").value = instrument;
  music.setInstrument(instrument);
  one(".stage-title").textContent = `${shown.name}, ${levelNamed(level).title.toLowerCase()}, in ${pack.key}`;
  tellMelody();
  await breath();
  if (turn !== drawing) return;
  one(".in-words ol").replaceChildren(...pack.words.map((text) => {
    const item = document.createElement("li");
    item.textContent = text;
    return item;
  }));
  for (const part of document.querySelectorAll(".of-level")) {
    part.hidden = !part.dataset.levels.split(" ").includes(level);
  }
  for (const link of document.querySelectorAll(".contents a")) {
    const target = one(link.getAttribute("href"));
    link.parentElement.hidden = target.closest(".of-level[hidden]") !== null;
  }
  for (const row of document.querySelectorAll("[data-handout]")) {
    row.hidden = row.dataset.handout !== instrument;
  }
  loops.set();
  await breath();
  await figures.show(level, instrument);
  if (turn === drawing) document.documentElement.dataset.drawn = `${level}/${instrument}`;
}

// The notes are not to be had: show what is there, and say so.
function goBack(wanted) {
  const there = facts.instruments.find((each) => each.slug === drawn.instrument);
  one("#notes-trouble").textContent =
    `The notes for ${wanted.name}, ${levelNamed(chosen.level).title.toLowerCase()}, could not be loaded. You see those for ${there.name}, ${levelNamed(drawn.level).title.toLowerCase()}.`;
  const level = drawn.level !== chosen.level;
  chosen.instrument = drawn.instrument;
  chosen.level = drawn.level;
  one("#instrument").value = drawn.instrument;
  one(`.levels input[value="${drawn.level}"]`).checked = true;
  one(".sheet").classList.remove("waits");
  one(".level-note").textContent = levelNamed(drawn.level).note;
  if (level) loadSound();
  document.documentElement.dataset.drawn = `${drawn.level}/${drawn.instrument}`;
}

function tellMelody() {
  const heard = music.heardInstrument;
  const other = heard && heard !== drawn.instrument && facts.instruments.find((each) => each.slug === heard);
  const words = other ? `The melody sounds as the ${other.name.toLowerCase()} plays it.` : "";
  one("#melody-of").textContent = music.mixes ? words : "";
  one("#plain-melody-of").textContent = music.mixes ? "" : words;
}

function chooseInstrument(slug) {
  chosen.instrument = slug;
  remember("instrument", slug);
  return draw();
}

function chooseLevel(name) {
  if (name === chosen.level) return Promise.resolve();
  chosen.level = name;
  one(`.levels input[value="${name}"]`).checked = true;
  const drawn = draw();
  loadSound();
  return drawn;
}

// ---- sound ----

function loadSound() {
  const level = levelNamed(chosen.level);
  const isHeard = music.mixes ? Boolean(level.sound) : Boolean(level.files.demo);
  one(".player").hidden = one(".strip").hidden = !isHeard;
  tellTrouble("");
  if (!isHeard) {
    if (clock.playing) music.sound.pause();
    clock.map = [];
    return;
  }
  clock.load(level, drawn.instrument);
  strip.show();
  loops.fill(strip.passages);
  const seek = one("#seek");
  seek.max = clock.map.length - 1;
  seek.min = clock.countInEnd > 0 ? -1 : 0;
  setTempo(one("#tempo").value);
}

async function setTempo(percent) {
  one("#tempo").value = percent;
  sayTempo();
  try {
    await clock.setTempo(Number(percent));
  } catch (error) {
    one("#tempo").value = 100;
    await clock.setTempo(100);
    sayTempo();
    tellTrouble("Other tempos cannot be played here: a file of the page is missing.", error);
  }
}

function sayTempo() {
  const percent = Number(one("#tempo").value);
  const beats = Math.round(levelNamed(chosen.level).tempo * percent / 100);
  one("#tempo-words").textContent = `${percent} %, ${beats} beats a minute`;
  one("#tempo").setAttribute("aria-valuetext", one("#tempo-words").textContent);
  for (const button of one(".tempo-steps").children) {
    button.setAttribute("aria-pressed", String(Number(button.value) === percent));
  }
}

// What the play button says and does, and how far the sound has come.
function showState() {
  const { playing, waits } = music.sound;
  document.body.classList.toggle("playing", playing);
  one(".play").setAttribute("aria-label", playing ? "Pause" : "Play");
  one(".play").setAttribute("aria-busy", String(playing && waits));
  const { progress } = music;
  const words = playing && waits ? "Loading the sound…"
    : progress !== null && progress < 1 ? `${Math.round(100 * progress)} % of the sound is here`
    : "";
  if (one("#loading").textContent !== words) one("#loading").textContent = words;
}

function clockText(seconds) {
  return `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;
}

clock.listeners.push((bar, now, turned) => {
  const level = levelNamed(chosen.level);
  score.sound(bar < 0 || !clock.playing ? [] : soundingIds(level, bar, now));
  const speed = clock.percent / 100;
  const time = `${clockText(Math.max(0, now) / speed)} of ${clockText(level.seconds / speed)}`;
  if (one("#time").textContent !== time) one("#time").textContent = time;
  if (!turned) return;
  const words = clock.describe(bar);
  one("#bar").textContent = words;
  one("#seek").value = bar;
  one("#seek").setAttribute("aria-valuetext", words);
  score.light(bar < 0 ? -1 : clock.map[bar][SHEET]);
  const passage = strip.at(bar);
  if (passage !== clock.passage) {
    clock.passage = passage;
    one("#announce").textContent = clock.playing ? words : "";
  }
  if (clock.playing) score.follow(clock.map[bar + 1]?.[SHEET]);
});

// Notes begin at parts of their bar; an open solo (no melody) lights none.
function soundingIds(level, bar, now) {
  const entry = clock.map[bar];
  const notes = entry[PLAYED] ? level.onsets[entry[SHEET]] : null;
  if (!notes) return [];
  const part = (now - entry[START]) / (entry[END] - entry[START]);
  let found = "";
  for (const [position, from, to] of notes) {
    if (part >= from && part < to) found = `b${entry[SHEET]}n${position}`;
  }
  return found ? [found] : [];
}

// ---- wiring ----

one("#instrument").value = drawn.instrument;
one("#instrument").addEventListener("change", (event) => chooseInstrument(event.target.value));
for (const radio of document.querySelectorAll(".levels input")) {
  radio.checked = radio.value === chosen.level;
  radio.addEventListener("change", () => chooseLevel(radio.value));
}
one("#tempo").addEventListener("input", (event) => setTempo(event.target.value));
one("#seek").addEventListener("input", (event) => {
  const bar = Number(event.target.value);
  clock.goTo(bar < 0 ? 0 : clock.map[bar][START]);
});
one(".play").addEventListener("click", () => clock.toggle());
for (const button of one(".tempo-steps").children) {
  button.addEventListener("click", () => setTempo(button.value));
}
one("#more").addEventListener("click", (event) => {
  const open = one(".panel").hidden;
  one(".panel").hidden = !open;
  event.currentTarget.setAttribute("aria-expanded", String(open));
});
addEventListener("resize", () => { score.fit(); figures.fit(); });
matchMedia("print").addEventListener?.("change", () => score.fit());
addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, select, button, summary, a, textarea");
  if (event.key === " " && !typing && !one(".player").hidden) {
    event.preventDefault();
    one(".play").click();
  }
});
// What has the focus must never lie under the player, however high it is just now.
new ResizeObserver(() => {
  const height = one(".player").offsetHeight;
  document.documentElement.style.setProperty("--player-height", `${height}px`);
}).observe(one(".player"));
if (BESIDE) {
  for (const link of document.querySelectorAll(".downloads a")) {
    link.setAttribute("href", BESIDE + link.getAttribute("href"));
  }
}

one(".mixer").hidden = !music.mixes;
one(".player").clock = clock; // for whoever measures the page
loadSound();
draw();
document.documentElement.dataset.ready = "";
