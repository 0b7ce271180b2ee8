// What all editors share: undo and redo, what was saved, a conflict to settle, earlier versions.

function button(words, act, properties = {}) {
  const made = make("button", { type: "button", textContent: words, ...properties });
  made.addEventListener("click", act);
  return made;
}

// Undo and redo stand in the bar; the keys work anywhere in the editor but in a text field.
function bindUndo(model, el, bar) {
  const undo = button("Undo", () => model.send({ undo: true }), { title: "Ctrl+Z" });
  const redo = button("Redo", () => model.send({ redo: true }), { title: "Ctrl+Shift+Z" });
  const status = make("span", { className: "lk-status", role: "status" });
  const draw = () => {
    undo.disabled = !model.get("can_undo");
    redo.disabled = !model.get("can_redo");
    status.textContent = model.get("status");
  };
  el.addEventListener("keydown", (event) => {
    const typing = event.target.matches("input:not([type=checkbox]), textarea");
    if (typing || !(event.ctrlKey || event.metaKey)) return;
    const key = event.key.toLowerCase();
    if (key === "z") model.send(event.shiftKey ? { redo: true } : { undo: true });
    else if (key === "y") model.send({ redo: true });
    else return;
    event.preventDefault();
  });
  bar.append(make("span", { className: "lk-undo", role: "group", ariaLabel: "History" }, undo, redo), status);
  draw();
  for (const name of ["can_undo", "can_redo", "status"]) model.on(`change:${name}`, draw);
}

function bindConflict(model, place) {
  const words = make("p");
  const settle = (choice) => () => model.send({ settle: choice });
  place.setAttribute("role", "alert");
  place.append(
    words,
    button("Load what is there now", settle("load")),
    " ",
    button("Keep mine", settle("keep")),
  );
  const draw = () => {
    words.textContent = model.get("conflict");
    place.hidden = !model.get("conflict");
  };
  draw();
  model.on("change:conflict", draw);
}

function bindPast(model, place) {
  const list = make("ul", { className: "lk-list" });
  place.append(make("summary", { textContent: "Earlier versions of the file" }), list);
  const draw = () => {
    const past = model.get("past");
    place.hidden = past.length === 0;
    list.replaceChildren(
      ...past.map((words, number) =>
        make("li", {}, `${words} `, button("Bring back", () => model.send({ restore: number }), {
          ariaLabel: `Bring back the version replaced ${words}`,
        })),
      ),
    );
  };
  draw();
  model.on("change:past", draw);
}

// The option of an edit as a field: a list, a number or a text.
function optionField(option, changed) {
  let field;
  if (option.choices.length > 0) {
    field = make("select", { className: "lk-select" });
    for (const value of option.choices) field.append(new Option(value, value, false, value === option.value));
  } else if (option.kind === "count") {
    const [min, max] = option.bounds;
    field = make("input", { type: "number", min, max, value: option.value });
  } else {
    field = make("input", { type: "text", value: option.value, size: 8, spellcheck: false });
  }
  field.dataset.option = option.name;
  field.addEventListener("change", changed);
  return make("label", { className: "lk-chooser" }, `${option.name} `, field);
}

// Fields for the options of an edit chosen in a list, and the edit as it is set.
function editForm(changed) {
  const list = make("select", { className: "lk-select lk-operation", ariaLabel: "Edit" });
  const options = make("span", { className: "lk-options" });
  const words = make("p", { className: "lk-note" });
  let known = [];
  const drawOptions = () => {
    const one = known.find((item) => item.do === list.value);
    options.replaceChildren(...(one ? one.options.map((option) => optionField(option, changed)) : []));
    words.textContent = one ? `${one.words[0].toUpperCase()}${one.words.slice(1)}.` : "";
  };
  const fill = (items) => {
    const before = list.value;
    known = items;
    const families = [...new Set(items.map((item) => item.family))];
    list.replaceChildren(new Option("Choose an edit …", ""));
    for (const family of families) {
      const group = make("optgroup", { label: family });
      for (const item of items) if (item.family === family) group.append(new Option(item.do, item.do));
      list.append(group);
    }
    list.value = items.some((item) => item.do === before) ? before : "";
    drawOptions();
  };
  list.addEventListener("change", () => {
    drawOptions();
    changed();
  });
  const wish = () => ({
    do: list.value,
    options: Object.fromEntries(
      [...options.querySelectorAll("[data-option]")].map((field) => [
        field.dataset.option,
        field.type === "number" ? Number(field.value) : field.value,
      ]),
    ),
  });
  return { list, options, words, fill, wish, clear: () => { list.value = ""; drawOptions(); } };
}

// A few bars of audio that came with a message.
function bindSound(model, problem) {
  let source = null;
  const audio = new Audio();
  model.on("msg:custom", (message, buffers) => {
    if (!message.audio) return;
    if (source) URL.revokeObjectURL(source);
    source = URL.createObjectURL(new Blob([buffers[0]], { type: message.audio.mime }));
    audio.src = source;
    audio.play().catch((error) => {
      problem.textContent = `The browser did not start the sound: ${error.message}`;
      problem.hidden = false;
    });
  });
  return () => {
    audio.pause();
    if (source) URL.revokeObjectURL(source);
  };
}

// What the bench and the changes editor share: the edits that are possible at a place, each
// previewed as it is chosen, applied or given up; those that are not, and why; those there are.
function bindEdits(model, { shown, isListed }) {
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

  const drawPossible = () => {
    const all = model.get("possible").filter(isListed);
    // What is refused only for the text it was tried with can still be done with another.
    const can = (item) => !item.reason || item.options.some((option) => option.kind === "text");
    form.fill(all.filter(can));
    const not = all.filter((item) => !can(item));
    refusedBox.hidden = not.length === 0;
    refusedBox.firstChild.textContent = `Not possible here, and why (${not.length})`;
    refused.replaceChildren(
      ...not.map((item) => make("li", {}, make("strong", { textContent: item.do }), `: ${item.reason}.`)),
    );
  };
  const drawPreview = () => {
    const said = model.get("preview_words");
    preview.textContent = said ? `Preview: ${said}. ${shown}` : "";
  };
  const drawHere = () => {
    const rows = model.get("here").map((edit) =>
      make("li", {}, `${edit.words} `, button("Take out", () => model.send({ take_out: edit.number }), { ariaLabel: `Take out ${edit.words}` })),
    );
    here.replaceChildren(...(rows.length ? rows : [make("li", { textContent: "None." })]));
  };
  drawPossible();
  drawPreview();
  drawHere();
  model.on("change:preview_words", drawPreview);
  model.on("change:here", drawHere);
  return {
    drawPossible,
    cancel,
    focus: () => form.list.focus(),
    clear: () => {
      form.fill([]);
      refusedBox.hidden = true;
    },
    choice: make("div", { className: "lk-bar" }, form.list, form.options, apply, cancel),
    about: [form.words, preview, refusedBox],
    here,
  };
}
