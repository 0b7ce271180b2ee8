// The page: what is chosen, and everything that follows from it.

const facts = JSON.parse(document.getElementById("lesson-facts").textContent);
const levelNamed = (name) => facts.levels.find((level) => level.name === name);

const chosen = {
  instrument: facts.instruments.some((each) => each.slug === recall("instrument", ""))
    ? recall("instrument", "")
    : facts.default_instrument,
  level: facts.default_level,
  mix: "",
};

const audio = one("#sound");
const clock = new Clock(audio, tellTrouble);
const score = new Score(one(".sheet"), (sheetBar) => playWhere((entry) => entry[SHEET] === sheetBar));
const strip = new Strip(one(".strip"), clock, (bar) => clock.playFrom(bar));
const loops = new Loops(clock, score);
const stand = new Stand(score);
const figures = new Figures(facts.slug, {
  playFormBar: (formBar) => playWhere((entry) => entry[FORM] === formBar),
  playMix,
});

function mixesOf(level) {
  return Object.keys(levelNamed(level).sources);
}

function tellTrouble(words) {
  one("#sound-trouble").textContent = words;
}

// Play the pass of a bar that comes next from where we are, or else its first.
function playWhere(matches) {
  const places = clock.map.flatMap((entry, place) => (matches(entry) ? [place] : []));
  if (!places.length) return;
  clock.playFrom(places.find((place) => place >= clock.bar) ?? places[0]);
}

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
  score.lightAgain();
  const shown = facts.instruments.find((each) => each.slug === instrument);
  one(".stage-title").textContent = `${shown.name}, ${levelNamed(level).title.toLowerCase()}, in ${pack.key}`;
  one(".level-note").textContent = levelNamed(level).note;
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
  loadSound();
  return draw();
}

function chooseMix(mix) {
  chosen.mix = mix;
  one("#mix").value = mix;
  tellTrouble("");
  clock.load(levelNamed(chosen.level), mix, true);
  showSteps();
}

// ---- sound ----

function loadSound() {
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
  // While the clock still has the music that the loop is of: a count-in may be under way.
  clock.setLoop(null);
  clock.load(levelNamed(chosen.level), chosen.mix, false);
  strip.show();
  loops.fill(strip.passages);
  const seek = one("#seek");
  seek.max = clock.map.length - 1;
  seek.min = clock.countInEnd > 0 ? -1 : 0;
  showSteps();
  sayTempo();
}

function setTempo(percent) {
  one("#tempo").value = percent;
  tellTrouble("");
  clock.setTempo(Number(percent));
  sayTempo();
}

function sayTempo() {
  const percent = Number(one("#tempo").value);
  const beats = Math.round(levelNamed(chosen.level).tempo * percent / 100);
  one("#tempo-words").textContent = `${percent} %, ${beats} beats a minute`;
  for (const button of one(".tempo-steps").children) {
    button.setAttribute("aria-pressed", String(Number(button.value) === percent));
  }
}

// A button for each tempo that the band has really played.
function showSteps() {
  const found = levelNamed(chosen.level).sources[chosen.mix].map(([step]) => step);
  const steps = [...new Set(found)].sort((one, other) => one - other);
  one(".tempo-steps").hidden = steps.length < 2;
  one(".tempo-steps").replaceChildren(...steps.map((step) => {
    const button = document.createElement("button");
    button.type = "button";
    button.value = step;
    button.textContent = `${step} %`;
    button.addEventListener("click", () => setTempo(step));
    return button;
  }));
  sayTempo();
}

function clockText(seconds) {
  return `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;
}

clock.listeners.push((bar, now, turned) => {
  const level = levelNamed(chosen.level);
  score.sound(bar < 0 || audio.paused ? [] : soundingIds(level, bar, now));
  const speed = clock.percent / 100;
  one("#time").textContent = `${clockText(now / speed)} of ${clockText(level.seconds / speed)}`;
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
  if (!audio.paused) score.follow(clock.map[bar + 1]?.[SHEET]);
});

// Notes begin at parts of their bar; an open solo (no melody) lights none.
function soundingIds(level, bar, now) {
  const entry = clock.map[bar];
  const onsets = level.onsets[clock.source?.step] ?? level.onsets[100];
  const notes = entry[PLAYED] ? onsets[entry[SHEET]] : null;
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
one("#tempo").addEventListener("input", (event) => setTempo(event.target.value));
one("#seek").addEventListener("input", (event) => {
  const bar = Number(event.target.value);
  clock.endLead();
  clock.goTo(bar < 0 ? 0 : clock.map[bar][START]);
});
one(".play").addEventListener("click", () => clock.toggle());
for (const kind of ["play", "pause", "ended"]) {
  audio.addEventListener(kind, () => {
    const plays = !audio.paused && !audio.ended;
    document.body.classList.toggle("playing", plays);
    one(".play").setAttribute("aria-label", plays ? "Pause" : "Play");
  });
}
one("#more").addEventListener("click", (event) => {
  const open = one(".panel").hidden;
  one(".panel").hidden = !open;
  event.currentTarget.setAttribute("aria-expanded", String(open));
});
addEventListener("resize", () => { score.fit(); figures.fit(); });
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

document.documentElement.classList.add("scripted");
loadSound();
draw();
