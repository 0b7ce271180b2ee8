// The level bench: two staves, a note chosen by click or arrow keys, and what can be done to it.

const SVG_NS = "http://www.w3.org/2000/svg";
const AFTER_KEYS_MS = 180;

// Marks are shapes: a frame round the chosen note, a line under changed ones, a dashed frame
// round what has just changed or is previewed.
function markSymbol(staves, id, name) {
  const symbol = staves.querySelector(`[data-id="${CSS.escape(id)}"]`);
  if (!symbol) return;
  const box = symbol.getBBox();
  const room = 60;
  const frame = {
    x: box.x - room,
    y: box.y - room,
    width: box.width + 2 * room,
    height: box.height + 2 * room,
  };
  if (name === "lk-changed") Object.assign(frame, { y: box.y + box.height + room, height: 36 });
  const mark = document.createElementNS(SVG_NS, "rect");
  for (const [key, value] of Object.entries({ ...frame, rx: 30, class: `lk-mark ${name}` })) {
    mark.setAttribute(key, value);
  }
  symbol.prepend(mark);
}

function drawMarks(model, staves, selected) {
  staves.querySelectorAll(".lk-mark").forEach((mark) => mark.remove());
  for (const id of model.get("differing")) markSymbol(staves, id, "lk-changed");
  for (const id of model.get("fresh")) markSymbol(staves, id, "lk-fresh");
  if (selected) markSymbol(staves, selected, "lk-chosen");
}

// Only ink takes clicks in a drawing, so the symbols' boxes are asked, a little wider.
function symbolUnder(staves, x, y) {
  let best = null;
  let least = 24;
  for (const symbol of staves.querySelectorAll(".note, .rest, .mRest")) {
    const box = symbol.getBoundingClientRect();
    const across = Math.max(box.left - x, 0, x - box.right);
    const down = Math.max(box.top - y, 0, y - box.bottom);
    const far = Math.hypot(across, down);
    if (far < least) [best, least] = [symbol.dataset.id, far];
  }
  return best;
}

export default {
  render({ model, el }) {
    el.classList.add("lk-live", "lk-bench-view");
    el.dataset.goesToBars = "true";
    guardKeys(el);
    const bar = make("div", { className: "lk-bar", role: "group", ariaLabel: "Choices" });
    const tools = make("div", { className: "lk-bar", role: "group", ariaLabel: "Tools" });
    const problem = make("p", { className: "lk-problem", role: "alert" });
    const conflict = make("div", { className: "lk-conflict" });
    const staves = make("div", {
      className: "lk-card lk-staves",
      tabIndex: 0,
      role: "application",
      ariaLabel: "Staves; left and right choose a note, Home and End the first and last, Enter goes to the edits",
    });
    const chosen = make("p", { className: "lk-chosen-words", role: "status" });
    const names = make("p", { className: "lk-note lk-names" });
    const facts = make("div", { className: "lk-figure lk-facts-below" });
    const past = make("details", { className: "lk-more lk-past" });

    bindChoosers(model, bar);
    bindProblem(model, problem);
    bindConflict(model, conflict);
    bindPast(model, past);
    const silence = bindSound(model, problem);

    const listen = (which, words) => button(words, () => model.send({ listen: which }));
    tools.append(listen("source", "Hear upper staff"), listen("level", "Hear lower staff"));
    bindUndo(model, el, tools);

    // What is possible at the note.
    const edits = bindEdits(model, { shown: "Dashed frames show what changes.", isListed: () => true });
    const ideas = make("ul", { className: "lk-list lk-ideas" });
    const panels = make(
      "div",
      { className: "lk-panels" },
      make("section", { ariaLabel: "Edits" },
        make("h4", { textContent: "What can be done here" }),
        edits.choice, ...edits.about,
        make("h4", { textContent: "Edits in this bar" }), edits.here),
      make("section", { ariaLabel: "Suggestions" }, make("h4", { textContent: "Suggestions, best first" }), ideas),
    );
    el.append(bar, tools, problem, conflict, names, staves, chosen, panels, facts, past);

    let selected = model.get("selected");
    let waiting = 0;
    const words = () => model.get("sites").find((site) => site.id === selected)?.words ?? "";
    const drawChosen = () => {
      drawMarks(model, staves, selected);
      chosen.textContent = words();
    };
    const ask = () => {
      clearTimeout(waiting);
      waiting = setTimeout(() => {
        model.send({ select: selected });
        model.send({ look: true });
      }, AFTER_KEYS_MS);
    };
    const select = (id) => {
      if (!id || id === selected) return;
      selected = id;
      // What was possible at the note before says nothing of this one.
      edits.clear();
      drawChosen();
      ask();
    };
    const step = (by) => {
      const known = model.get("sites");
      const at = known.findIndex((site) => site.id === selected);
      select(known[Math.min(known.length - 1, Math.max(0, at + by))]?.id);
    };
    staves.addEventListener("click", (event) => {
      const id = symbolUnder(staves, event.clientX, event.clientY);
      if (id) select(model.get("symbols")[id] ?? id);
    });
    staves.addEventListener("keydown", (event) => {
      const steps = { ArrowRight: 1, ArrowLeft: -1, Home: -1e6, End: 1e6 };
      if (event.key in steps) step(steps[event.key]);
      else if (event.key === "Enter") edits.focus();
      else if (event.key === "Escape") edits.cancel.click();
      else return;
      event.preventDefault();
    });

    const drawStaves = () => {
      staves.innerHTML = model.get("staves");
      drawChosen();
    };
    const drawIdeas = () => {
      ideas.replaceChildren(
        ...model.get("ideas").map((idea, number) =>
          make("li", {}, make("span", { className: "lk-idea" },
            make("strong", { textContent: idea.words }), make("br"), `${idea.reason[0].toUpperCase()}${idea.reason.slice(1)}.`),
            make("span", { className: "lk-idea-buttons" }, button("Preview", () => model.send({ suggestion: { number, apply: false } }), { ariaLabel: `Preview ${idea.words}` }),
            " ",
            button("Apply", () => model.send({ suggestion: { number, apply: true } }), { ariaLabel: `Apply ${idea.words}` }))),
        ),
      );
    };
    const drawPreview = () => staves.classList.toggle("lk-previewing", Boolean(model.get("preview_words")));
    const drawFacts = () => (facts.innerHTML = model.get("facts"));
    const drawNames = () => (names.textContent = model.get("names"));

    drawStaves();
    drawIdeas();
    drawPreview();
    drawFacts();
    drawNames();
    model.on("change:staves", drawStaves);
    for (const name of ["differing", "fresh"]) model.on(`change:${name}`, drawChosen);
    for (const name of ["selected", "sites"]) {
      model.on(`change:${name}`, () => {
        // Another figure may have sent the bench to a bar.
        const isMoved = selected !== model.get("selected");
        selected = model.get("selected");
        drawChosen();
        if (isMoved) ask();
      });
    }
    // The music is another: what is possible has to be asked anew. An edit that was previewed
    // leaves the same drawing when it is applied, so the preview's end counts too.
    for (const name of ["staves", "preview_words"]) {
      model.on(`change:${name}`, () => {
        if (!model.get("preview_words")) ask();
      });
    }
    model.on("msg:custom", (message) => {
      if (message.looked) edits.drawPossible();
    });
    model.on("change:possible", edits.drawPossible);
    model.on("change:ideas", drawIdeas);
    model.on("change:preview_words", drawPreview);
    model.on("change:facts", drawFacts);
    model.on("change:names", drawNames);
    ask();
    return () => {
      clearTimeout(waiting);
      silence();
    };
  },
};
