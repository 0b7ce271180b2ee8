// The notation on its card: lit bars and notes, clicks, and keeping the line in view.

class Score {
  constructor(card, onBar) {
    this.card = card;
    this.lit = [];
    this.soundingNotes = [];
    this.lights = new Map();
    this.handsOff = 0;
    card.addEventListener("click", (event) => {
      const measure = event.target.closest("g.measure");
      if (measure) onBar(indexOf(measure));
    });
    for (const kind of ["wheel", "touchmove"]) {
      addEventListener(kind, () => { this.handsOff = performance.now() + 4000; }, { passive: true });
    }
    this.prepare();
  }

  show(pack) {
    // Of its two widths the one that is not displayed waits until it is.
    this.pack = pack;
    this.prepare();
  }

  // Lay a field behind every bar: it takes clicks, and lights up.
  prepare() {
    this.lights = new Map();
    this.lit = [];
    this.soundingNotes = [];
    this.fitted = new Set();
    this.fit();
  }

  // A drawing that is not displayed has no size yet; it is fitted when it first is.
  fit() {
    for (const sheet of this.card.querySelectorAll(".wide, .narrow")) {
      if (this.fitted.has(sheet) || !sheet.getClientRects().length) continue;
      this.fitted.add(sheet);
      if (this.pack) sheet.innerHTML = this.pack[sheet.className];
      for (const measure of sheet.querySelectorAll('g.measure')) this.addLight(measure);
    }
  }

  addLight(measure) {
    const index = indexOf(measure);
    const staff = measure.querySelector('g.staff') || measure;
    const lines = [...staff.children].filter((child) => child.tagName === "path");
    const box = boxOf(lines.length ? lines : [staff]);
    const light = document.createElementNS("http://www.w3.org/2000/svg", "rect");
    const rise = box.height * 0.55;
    light.setAttribute("class", "bar-light");
    light.setAttribute("x", box.x);
    light.setAttribute("y", box.y - rise);
    light.setAttribute("width", box.width);
    light.setAttribute("height", box.height + 2 * rise);
    light.dataset.bar = index;
    measure.prepend(light);
    if (!this.lights.has(index)) this.lights.set(index, []);
    this.lights.get(index).push(light);
  }

  light(index) {
    for (const light of this.lit) light.classList.remove("lit");
    this.lit = this.lights.get(index) || [];
    for (const light of this.lit) light.classList.add("lit");
    this.card.dataset.litBar = index;
  }

  // A new drawing shows at once where the sound is.
  lightAgain() {
    this.light(Number(this.card.dataset.litBar ?? -1));
  }

  sound(ids) {
    for (const note of this.soundingNotes) note.classList.remove("sounding");
    this.soundingNotes = ids.flatMap((id) => [...this.card.querySelectorAll(`[data-id="${id}"]`)]);
    for (const note of this.soundingNotes) note.classList.add("sounding");
  }

  markLoop(indices) {
    for (const [index, lights] of this.lights) {
      for (const light of lights) light.classList.toggle("looped", indices.has(index));
    }
  }

  // Turn the page, so to speak: keep the line and the bar that comes next in view, unless the
  // reader is scrolling.
  follow(next) {
    const light = this.seen(this.lit);
    if (!light || performance.now() < this.handsOff) return;
    const box = light.getBoundingClientRect();
    const ahead = this.seen(this.lights.get(next) ?? [])?.getBoundingClientRect() ?? box;
    const floor = innerHeight - document.querySelector(".player").offsetHeight;
    const comesBack = ahead.top < box.top;
    if (box.top >= 8 && box.bottom <= floor - 8 && (comesBack || ahead.bottom <= floor - 8)) return;
    const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
    scrollBy({ top: box.top - floor * 0.14, behavior: calm ? "auto" : "smooth" });
  }

  seen(lights) {
    return lights.find((rect) => rect.getClientRects().length);
  }
}

// A bar's data-id is "b" and its index on the sheet.
function indexOf(measure) {
  return Number(measure.dataset.id.slice(1));
}

function boxOf(elements) {
  const boxes = elements.map((element) => element.getBBox());
  const x = Math.min(...boxes.map((box) => box.x));
  const y = Math.min(...boxes.map((box) => box.y));
  return {
    x, y,
    width: Math.max(...boxes.map((box) => box.x + box.width)) - x,
    height: Math.max(...boxes.map((box) => box.y + box.height)) - y,
  };
}
