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
    bindChoosers(model, bar, (name, value) => model.send({ choose: { [name]: value } }));
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
    const form = editForm(() => model.send(form.list.value ? { preview: form.wish() } : { cancel: true }));
    const apply = button("Apply", () => {
      model.send({ apply: form.wish() });
      form.clear();
    }, { className: "lk-apply" });
    const cancel = button("Cancel", () => {
      form.clear();
      model.send({ cancel: true });
    });
    const preview = make("p", { className: "lk-preview", role: "status" });
    const refused = make("ul", { className: "lk-list" });
    const refusedBox = make("details", { className: "lk-more" }, make("summary"), refused);
    const here = make("ul", { className: "lk-list" });
    const rubs = make("ul", { className: "lk-list" });
    const rubsBox = make("section", { ariaLabel: "Clashes" }, make("h4", { textContent: "What rubs against the melody" }), rubs);
    el.append(bar, tools, problem, conflict, grid, chosen,
      make("div", { className: "lk-panels" },
        make("section", { ariaLabel: "Edits" },
          make("div", { className: "lk-bar" }, make("label", { className: "lk-chooser" }, "Place ", beats), chord, set),
          make("h4", { textContent: "Reharmonise" }),
          make("div", { className: "lk-bar" }, form.list, form.options, apply, cancel),
          form.words, preview, refusedBox,
          make("h4", { textContent: "Edits of the changes in this bar" }), here),
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
      const all = model.get("possible");
      const typed = all.find((item) => item.do === "chord");
      if (typed && document.activeElement !== chord) chord.value = typed.options[0].value;
      form.fill(all.filter((item) => !item.reason && item.do !== "chord"));
      const not = all.filter((item) => item.reason && item.do !== "chord");
      refusedBox.hidden = not.length === 0;
      refusedBox.firstChild.textContent = `Not possible here, and why (${not.length})`;
      refused.replaceChildren(...not.map((item) => make("li", {}, make("strong", { textContent: item.do }), `: ${item.reason}.`)));
    };
    const drawPreview = () => {
      const said = model.get("preview_words");
      grid.classList.toggle("lk-previewing", Boolean(said));
      preview.textContent = said ? `Preview: ${said}. The grid shows it; nothing is saved yet.` : "";
    };
    const drawLists = () => {
      rubs.replaceChildren(...model.get("rubs").map((words) => make("li", { textContent: `${words}.` })));
      rubsBox.hidden = model.get("rubs").length === 0;
      const rows = model.get("here").map((edit) =>
        make("li", {}, `${edit.words} `, button("Take out", () => model.send({ take_out: edit.number }), { ariaLabel: `Take out ${edit.words}` })));
      here.replaceChildren(...(rows.length ? rows : [make("li", { textContent: "None." })]));
    };
    for (const [names, draw] of [
      [["grid", "selected"], drawGrid],
      [["chosen_words", "beats", "selected"], drawPlace],
      [["possible"], drawPossible],
      [["preview_words"], drawPreview],
      [["rubs", "here"], drawLists],
    ]) {
      draw();
      for (const name of names) model.on(`change:${name}`, draw);
    }
    return silence;
  },
};
