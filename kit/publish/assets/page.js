// The page: what is chosen, and everything that follows from it.

const facts = JSON.parse(document.getElementById("lesson-facts").textContent);
const one = (selector) => document.querySelector(selector);
const levelNamed = (name) => facts.levels.find((level) => level.name === name);

const chosen = {
  instrument: facts.instruments.some((horn) => horn.slug === recall("instrument", ""))
    ? recall("instrument", "")
    : facts.default_instrument,
  level: facts.default_level,
  mix: "",
};

const audio = one("#sound");
const clock = new Clock(audio);
const score = new Score(one(".sheet"), (sheetBar) => playSheetBar(sheetBar));
const strip = new Strip(one(".strip"), clock, (bar) => clock.playFrom(bar));
const figures = new Figures(facts.slug, { playFormBar, playMix });

function mixesOf(level) {
  return levelNamed(level).mixes;
}

// Play the pass of a bar that comes next from where we are, or else its first.
function playWhere(matches) {
  const places = clock.map.flatMap((entry, place) => (matches(entry) ? [place] : []));
  if (!places.length) return;
  clock.playFrom(places.find((place) => place >= clock.bar) ?? places[0]);
}

function playSheetBar(index) { playWhere((entry) => entry[SHEET] === index); }
function playFormBar(index) { playWhere((entry) => entry[FORM] === index); }

async function playMix(level, mix) {
  if (level && levelNamed(level)) await chooseLevel(level);
  if (mix && mixesOf(chosen.level).includes(mix)) chooseMix(mix);
  await clock.playFrom(-1);
}

// ---- choices ----

let drawing = 0;

async function draw() {
  const turn = ++drawing;
  const { level, instrument } = chosen;
  const pack = await packNamed(`${level}/${instrument}`);
  if (turn !== drawing) return;
  score.show(pack);
  const horn = facts.instruments.find((each) => each.slug === instrument);
  one(".stage-title").textContent = `${horn.name}, ${levelNamed(level).title.toLowerCase()}, in ${pack.key}`;
  one(".level-note").textContent = levelNamed(level).note;
  one(".in-words ol").replaceChildren(...pack.words.map((text) => {
    const item = document.createElement("li");
    item.textContent = text;
    return item;
  }));
  for (const part of document.querySelectorAll(".of-level")) {
    part.hidden = !part.dataset.levels.split(" ").includes(level);
  }
  for (const row of document.querySelectorAll("[data-handout]")) {
    row.hidden = row.dataset.handout !== instrument;
  }
  await figures.show(level, instrument);
  document.documentElement.dataset.drawn = `${level}/${instrument}`;
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
  loadSound(false);
  return draw();
}

function chooseMix(mix) {
  chosen.mix = mix;
  one("#mix").value = mix;
  clock.load(levelNamed(chosen.level), mix, true);
}

function loadSound(keepPlace) {
  const mixes = mixesOf(chosen.level);
  one(".player").hidden = !mixes.length;
  one(".strip").hidden = !mixes.length;
  if (!mixes.length) {
    audio.pause();
    clock.map = [];
    return;
  }
  if (!mixes.includes(chosen.mix)) chosen.mix = mixes[0];
  for (const option of one("#mix").options) {
    option.hidden = option.disabled = !mixes.includes(option.value);
  }
  one("#mix").value = chosen.mix;
  clock.load(levelNamed(chosen.level), chosen.mix, keepPlace);
  strip.show();
  fillLoops();
  const seek = one("#seek");
  seek.max = clock.map.length - 1;
  seek.min = clock.countInEnd > 0 ? -1 : 0;
  setTempo();
}

// ---- sound ----

function setTempo() {
  const percent = Number(one("#tempo").value);
  audio.playbackRate = percent / 100;
  const beats = Math.round(levelNamed(chosen.level).tempo * percent / 100);
  one("#tempo-words").textContent = `${percent} %, ${beats} beats a minute`;
}

function fillLoops() {
  const options = strip.passages.map((passage, place) => {
    const option = document.createElement("option");
    const from = clock.map[passage.first], to = clock.map[passage.last];
    option.value = place;
    option.textContent = `${KIND_WORDS[from[KIND]]} ${from[SECTION]}, bars ${from[NUMBER]}–${to[NUMBER]}`;
    return option;
  });
  const select = one("#loop");
  select.replaceChildren(select.options[0], select.options[1], ...options);
  select.value = "";
  setLoop();
}

function setLoop() {
  const value = one("#loop").value;
  one(".bars").hidden = value !== "bars";
  let range = null;
  if (value === "bars") range = numberedBars(Number(one("#from").value), Number(one("#to").value));
  else if (value !== "") {
    const passage = strip.passages[Number(value)];
    range = [passage.first, passage.last];
  }
  clock.loop = range && { start: clock.map[range[0]][START], end: clock.map[range[1]][END] };
  const shown = range ? clock.map.slice(range[0], range[1] + 1).map((entry) => entry[SHEET]) : [];
  score.markLoop(new Set(shown));
  if (clock.loop && (audio.currentTime < clock.loop.start || audio.currentTime >= clock.loop.end)) {
    audio.currentTime = clock.loop.start;
  }
}

// The first stretch of the performance that goes from one printed bar to another.
function numberedBars(from, to) {
  const first = clock.map.findIndex((entry) => entry[NUMBER] === from);
  if (first < 0) return null;
  const ahead = clock.map.slice(first).findIndex((entry) => entry[NUMBER] === to);
  return ahead < 0 ? null : [first, first + ahead];
}

function clockText(seconds) {
  return `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;
}

clock.listeners.push((bar, now, turned) => {
  const level = levelNamed(chosen.level);
  score.sound(bar < 0 || audio.paused ? [] : soundingIds(level, bar, now));
  one("#time").textContent = `${clockText(now)} of ${clockText(level.seconds)}`;
  if (!turned) return;
  const words = clock.describe(bar);
  one("#bar").textContent = words;
  one("#seek").value = bar;
  one("#seek").setAttribute("aria-valuetext", words);
  score.light(bar < 0 ? -1 : clock.map[bar][SHEET]);
  const passage = strip.at(bar);
  if (passage !== clock.passage) {
    clock.passage = passage;
    one("#announce").textContent = audio.paused ? "" : words;
  }
  if (!audio.paused) score.follow();
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

one("#instrument").value = chosen.instrument;
one("#instrument").addEventListener("change", (event) => chooseInstrument(event.target.value));
for (const radio of document.querySelectorAll(".levels input")) {
  radio.checked = radio.value === chosen.level;
  radio.addEventListener("change", () => chooseLevel(radio.value));
}
one("#mix").addEventListener("change", (event) => chooseMix(event.target.value));
one("#tempo").addEventListener("input", setTempo);
one("#loop").addEventListener("change", setLoop);
for (const id of ["#from", "#to"]) one(id).addEventListener("change", setLoop);
one("#seek").addEventListener("input", (event) => {
  const bar = Number(event.target.value);
  audio.currentTime = bar < 0 ? 0 : clock.map[bar][START];
});
one(".play").addEventListener("click", () => {
  if (audio.paused) clock.start();
  else audio.pause();
});
for (const kind of ["play", "pause", "ended"]) {
  audio.addEventListener(kind, () => {
    const plays = !audio.paused && !audio.ended;
    document.body.classList.toggle("playing", plays);
    one(".play").setAttribute("aria-label", plays ? "Pause" : "Play");
  });
}
audio.addEventListener("loadedmetadata", () => { audio.playbackRate = Number(one("#tempo").value) / 100; });
one("#stand").addEventListener("click", (event) => {
  const on = document.body.classList.toggle("stand");
  event.target.setAttribute("aria-pressed", String(on));
});
one("#more").addEventListener("click", (event) => {
  const open = one(".panel").hidden;
  one(".panel").hidden = !open;
  event.target.setAttribute("aria-expanded", String(open));
});
addEventListener("resize", () => score.fit());
addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, select, button, summary, a, textarea");
  if (event.key === " " && !typing && !one(".player").hidden) {
    event.preventDefault();
    one(".play").click();
  }
});

document.documentElement.classList.add("scripted");
score.prepare();
loadSound(false);
draw();
