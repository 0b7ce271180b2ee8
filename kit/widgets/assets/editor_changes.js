// The changes editor: a grid of bars with their chords, a chord chosen, and what can be done to it.

export default {
  render({ model, el }) {
    el.classList.add("lk-live", "lk-editor-view");
    guardKeys(el);
    const bar = make("div", { className: "lk-bar", role: "group", ariaLabel: "Choices" });
    const tools = make("div", { className: "lk-bar", role: "group", ariaLabel: "Tools" });
    const problem = make("p", { className: "lk-problem", role: "alert" });
    const conflict = make("div", { className: "lk-conflict" });
    const grid = make("div", { className: "lk-grid", role: "group", ariaLabel: "Changes, bar by bar; arrow keys go from chord to chord" });
    const past = make("details", { className: "lk-more lk-past" });
    bindChoosers(model, bar);
    bindProblem(model, problem);
    bindConflict(model, conflict);
    bindPast(model, past);
    const silence = bindSound(model, problem);
    tools.append(
      button("Hear before", () => model.send({ listen: "source" })),
      button("Hear now", () => model.send({ listen: "level" })),
    );
    bindUndo(model, el, tools);

    const chosen = make("p", { className: "lk-chosen-words", role: "status" });
    const beats = make("select", { className: "lk-select" });
    beats.addEventListener("change", () => model.send({ select: beats.value }));
    const chord = make("input", { type: "text", size: 10, spellcheck: false, ariaLabel: "Chord" });
    const typed = () => ({ do: "chord", options: { to: chord.value } });
    const set = button("Set chord", () => model.send({ apply: typed() }), { className: "lk-apply" });
    chord.addEventListener("keydown", (event) => {
      if (event.key === "Enter") set.click();
    });
    // The chord itself is typed in a field of its own.
    const edits = bindEdits(model, {
      shown: "The grid shows it; nothing is saved yet.",
      isListed: (item) => item.do !== "chord",
    });
    const rubs = make("ul", { className: "lk-list" });
    const rubsBox = make("section", { ariaLabel: "Clashes" }, make("h4", { textContent: "What rubs against the melody" }), rubs);
    el.append(bar, tools, problem, conflict, grid, chosen,
      make("div", { className: "lk-panels" },
        make("section", { ariaLabel: "Edits" },
          make("div", { className: "lk-bar" }, make("label", { className: "lk-chooser" }, "Place ", beats), chord, set),
          make("h4", { textContent: "Reharmonise" }),
          edits.choice, ...edits.about,
          make("h4", { textContent: "Edits of the changes in this bar" }), edits.here),
        rubsBox),
      past);

    const drawGrid = () => {
      const focused = grid.contains(document.activeElement);
      const selected = model.get("selected");
      grid.replaceChildren();
      for (const one of model.get("grid")) {
        if (one.section) grid.append(make("div", { className: "lk-grid-section", textContent: one.section }));
        const cell = make("div", { className: `lk-grid-bar${one.clash ? " lk-clash" : ""}` },
          make("span", { className: "lk-grid-number", textContent: one.number }));
        const chords = one.chords.length ? one.chords : [{ id: one.first, text: "%", beat: "beat 1", new: false }];
        for (const item of chords) {
          const named = item.text === "%" ? `${one.held} holds on` : item.text;
          const made = button(item.text, () => model.send({ select: item.id }), {
            ariaLabel: `Bar ${one.number}, ${item.beat}: ${named}${item.new ? ", changed" : ""}${one.clash ? ", rubs against the melody" : ""}`,
            "data-chord": item.id,
          });
          made.classList.toggle("lk-new", item.new);
          const pressed = item.id === selected || (one.chords.length === 0 && selected.split(" ")[0] === item.id.split(" ")[0]);
          made.setAttribute("aria-pressed", pressed);
          cell.append(made);
        }
        grid.append(cell);
      }
      if (focused) grid.querySelector('[aria-pressed="true"]')?.focus();
    };
    grid.addEventListener("keydown", (event) => {
      const by = { ArrowRight: 1, ArrowLeft: -1, ArrowDown: 4, ArrowUp: -4 }[event.key];
      if (!by) return;
      const all = [...grid.querySelectorAll("button")];
      const next = all[Math.min(all.length - 1, Math.max(0, all.indexOf(document.activeElement) + by))];
      next?.focus();
      event.preventDefault();
    });
    const drawPlace = () => {
      chosen.textContent = model.get("chosen_words");
      beats.replaceChildren(...model.get("beats").map((one) => new Option(one.words, one.id)));
      beats.value = model.get("selected");
    };
    const drawPossible = () => {
      if (model.get("preview_words")) return;
      const set = model.get("possible").find((item) => item.do === "chord");
      if (set && document.activeElement !== chord) chord.value = set.options[0].value;
      edits.drawPossible();
    };
    const drawPreview = () => grid.classList.toggle("lk-previewing", Boolean(model.get("preview_words")));
    const drawLists = () => {
      rubs.replaceChildren(...model.get("rubs").map((words) => make("li", { textContent: `${words}.` })));
      rubsBox.hidden = model.get("rubs").length === 0;
    };
    for (const [names, draw] of [
      [["grid", "selected"], drawGrid],
      [["chosen_words", "beats", "selected"], drawPlace],
      [["possible"], drawPossible],
      [["preview_words"], drawPreview],
      [["rubs"], drawLists],
    ]) {
      draw();
      for (const name of names) model.on(`change:${name}`, draw);
    }
    return silence;
  },
};
