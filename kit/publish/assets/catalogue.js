// Search and filters of the catalogue. Level, feel, tempo and difficulty have to be true of
// one and the same level; everything else of the lesson.

document.documentElement.classList.add("scripted");

const form = one(".search");
const fields = Object.fromEntries(
  [...form.querySelectorAll("input, select")].map((field) => [field.id, field]),
);
const entries = [...document.querySelectorAll(".entry")].map((element) => ({
  element,
  facts: JSON.parse(element.dataset.facts),
  levels: [...element.querySelectorAll("[data-level]")],
  key: element.querySelector(".your-key"),
}));
for (const entry of entries) entry.facts.words = plain(entry.facts.words);
const paths = [...document.querySelectorAll(".path")].map((element) => ({
  element,
  own: entries.filter((entry) => element.contains(entry.element)),
  way: document.querySelector(`.ways a[href="#${element.getAttribute("aria-labelledby")}"]`)?.parentElement,
}));
const ways = document.querySelector(".ways");

// Letters without their accents, so that "resume" finds "résumé".
function plain(text) {
  return text.toLowerCase().normalize("NFD").replace(/\p{M}/gu, "");
}

function wanted() {
  const number = (field, otherwise) => (field.value === "" ? otherwise : Number(field.value));
  return {
    words: plain(fields.words.value).split(/\s+/).filter(Boolean),
    instrument: fields.instrument.value,
    level: fields.level.value,
    key: fields.key.value,
    form: fields.form.value,
    feel: fields.feel.value,
    slowest: number(fields.slowest, 0),
    fastest: number(fields.fastest, Infinity),
    hardest: Number(fields.hardest.value) >= Number(fields.hardest.max) ? Infinity : Number(fields.hardest.value),
  };
}

function levelFits(level, wish) {
  return (
    (!wish.level || level.level === wish.level) &&
    (!wish.feel || level.feel === wish.feel) &&
    level.tempo >= wish.slowest &&
    level.tempo <= wish.fastest &&
    level.difficulty <= wish.hardest
  );
}

function lessonFits(facts, wish) {
  return (
    (!wish.key || facts.key === wish.key) &&
    (!wish.form || facts.form === wish.form) &&
    (!wish.instrument || wish.instrument in facts.keys) &&
    wish.words.every((word) => facts.words.includes(word))
  );
}

function show() {
  const wish = wanted();
  const choosy = wish.level || wish.feel || wish.slowest > 0 || wish.fastest < Infinity || wish.hardest < Infinity;
  let shown = 0;
  for (const { element, facts, levels, key } of entries) {
    const fitting = facts.levels.map((level) => levelFits(level, wish));
    const fits = lessonFits(facts, wish) && fitting.some(Boolean);
    if (element.hidden === fits) element.hidden = !fits;
    if (!fits) continue;
    shown += 1;
    levels.forEach((level, place) => level.classList.toggle("fits", Boolean(choosy) && fitting[place]));
    const own = facts.keys[wish.instrument];
    const text = own ? `. For you in ${own}` : "";
    if (key.textContent !== text) key.textContent = text;
  }
  for (const { element, own, way } of paths) {
    element.hidden = own.every((entry) => entry.element.hidden);
    if (way) way.hidden = element.hidden;
  }
  if (ways) ways.hidden = paths.filter((path) => !path.element.hidden).length < 2;
  one(".nothing").hidden = shown > 0;
  const all = shown === entries.length ? "" : ` of ${entries.length}`;
  one(".count").textContent = `${shown}${all} ${entries.length === 1 ? "lesson" : "lessons"}`;
  one("#hardest-words").textContent = fields.hardest.value;
}

form.addEventListener("input", show);
form.addEventListener("submit", (event) => event.preventDefault());
form.addEventListener("reset", () => setTimeout(show));
fields.instrument.addEventListener("change", () => {
  if (fields.instrument.value) remember("instrument", fields.instrument.value);
});

const kept = recall("instrument", "");
if ([...fields.instrument.options].some((option) => option.value === kept)) fields.instrument.value = kept;
show();
