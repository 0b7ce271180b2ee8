// The figures in the lesson's text, redrawn for the chosen level and instrument, with what
// they let the student do: tick steps, start the sound, play from a bar of a chart.

class Figures {
  // `usual` is the instrument for which figures stand in the document.
  constructor({ slug, usual, packs, breath, act }) {
    this.slug = slug;
    this.usual = usual;
    this.packs = packs;
    this.breath = breath;
    this.act = act;
    this.holders = [...document.querySelectorAll("[data-figure]")];
    this.later = new Map();
    if (window.IntersectionObserver) {
      this.nearby = new IntersectionObserver((seen) => {
        for (const { target, isIntersecting } of seen) if (isIntersecting) this.showLater(target);
      }, { rootMargin: "900px" });
    }
  }

  // A figure that names its level keeps it; the others follow the chosen one. What lies in the
  // pack of another level is fetched when the student comes near it.
  async show(level, instrument) {
    const turn = this.turn = Symbol("turn");
    const own = await this.packs.named(`${level}/${instrument}`);
    this.later.clear();
    for (const holder of this.holders) {
      const fixed = holder.dataset.level;
      if (!fixed || fixed === level) {
        this.put(holder, own, instrument);
        await this.breath();
        if (turn !== this.turn) return;
      } else {
        this.later.set(holder, `${fixed}/${instrument}`);
        holder.hidden = false;
        if (holder.dataset.kind === "player") this.enliven(holder);
        // What waits must not show the key of another instrument.
        else if ((holder.dataset.shown ?? this.usual) !== instrument) holder.replaceChildren();
        this.nearby?.unobserve(holder);
        if (this.nearby) this.nearby.observe(holder);
        else this.showLater(holder);
      }
    }
  }

  async showLater(holder) {
    const name = this.later.get(holder);
    this.later.delete(holder);
    if (!name) return;
    const { turn } = this;
    try {
      const pack = await this.packs.named(name);
      await this.breath();
      if (turn === this.turn) this.put(holder, pack, name.split("/")[1]);
    } catch (error) {
      // Better no figure than one in the key of another instrument.
      if (turn === this.turn) holder.hidden = true;
      console.info(error);
    }
  }

  put(holder, pack, instrument) {
    holder.dataset.shown = instrument;
    const html = pack.figures[holder.dataset.figure];
    holder.hidden = html === undefined;
    if (html === undefined) return;
    holder.innerHTML = html;
    this.enliven(holder);
  }

  enliven(holder) {
    if (holder.dataset.kind === "comparison") this.markDifferences(holder);
    if (holder.dataset.kind === "practice-plan") this.addBoxes(holder);
    if (holder.dataset.kind === "form-chart") this.addJumps(holder);
    if (holder.dataset.kind === "player") this.addButton(holder);
  }

  // A drawing that is not displayed has no size; it is marked when it first is.
  fit() {
    for (const holder of this.holders) {
      if (holder.dataset.kind === "comparison") this.markDifferences(holder);
    }
  }

  // A bracket under every run of notes that differ, at both levels: their ink alone would not
  // reach everyone.
  markDifferences(holder) {
    for (const measure of holder.querySelectorAll("g.measure:has([data-differs])")) {
      if (measure.querySelector(".differs-mark") || !measure.getClientRects().length) continue;
      const notes = boxOf([...measure.querySelectorAll("[data-differs]")]);
      const staff = boxOf([measure.querySelector("g.staff")]);
      const unit = boxOf([...measure.querySelectorAll("g.staff > path")]).height / 4;
      const x = notes.x - unit / 2, y = staff.y + staff.height + unit * 0.8;
      const mark = document.createElementNS("http://www.w3.org/2000/svg", "path");
      mark.setAttribute("class", "differs-mark");
      mark.setAttribute("d", `M${x},${y - unit} v${unit} h${notes.width + unit} v${-unit}`);
      mark.setAttribute("stroke-width", unit * 0.28);
      measure.append(mark);
    }
  }

  addBoxes(holder) {
    const key = `steps.${this.slug}`;
    const done = new Set(recall(key, []));
    for (const item of holder.querySelectorAll("ol > li")) {
      const name = item.textContent.trim().slice(0, 120);
      const label = document.createElement("label");
      label.className = "tick";
      const box = document.createElement("input");
      box.type = "checkbox";
      box.checked = done.has(name);
      const words = document.createElement("span");
      words.append(...item.childNodes);
      words.classList.toggle("ticked", box.checked);
      box.addEventListener("change", () => {
        words.classList.toggle("ticked", box.checked);
        if (box.checked) done.add(name);
        else done.delete(name);
        remember(key, [...done]);
      });
      label.append(box, words);
      item.append(label);
    }
  }

  addJumps(holder) {
    for (const cell of holder.querySelectorAll("[data-bar]")) {
      cell.style.cursor = "pointer";
      cell.addEventListener("click", () => this.act.playFormBar(Number(cell.dataset.bar)));
    }
  }

  addButton(holder) {
    if (holder.querySelector("button")) return;
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = "Play this";
    button.addEventListener("click", () =>
      this.act.playMix(holder.dataset.level, holder.dataset.mix));
    holder.append(button);
  }
}
