// An editor of a short list: rows of fields, added, removed and moved; a figure follows.

function rowField(column, value, label, changed) {
  let field;
  if (column.kind === "choice") {
    field = make("select", { className: "lk-select" });
    for (const [choice, words] of column.choices) field.append(new Option(words, choice, false, choice === value));
    field.value = value;
  } else {
    field = make("input", { type: column.kind === "number" ? "number" : "text", value, spellcheck: false });
    if (column.kind === "number") field.min = 0;
  }
  field.ariaLabel = label;
  field.dataset.field = column.name;
  field.addEventListener("change", changed);
  return field;
}

export default {
  render({ model, el }) {
    el.classList.add("lk-live", "lk-editor-view");
    guardKeys(el);
    const bar = make("div", { className: "lk-bar", role: "group", ariaLabel: "Choices" });
    const fields = make("div", { className: "lk-bar lk-fields", role: "group", ariaLabel: "Values" });
    const table = make("table", { className: "lk-rows" });
    const tools = make("div", { className: "lk-bar", role: "group", ariaLabel: "Tools" });
    const problem = make("p", { className: "lk-problem", role: "alert" });
    const conflict = make("div", { className: "lk-conflict" });
    const figure = make("div", { className: "lk-body" });
    const past = make("details", { className: "lk-more lk-past" });
    bindChoosers(model, bar);
    bindProblem(model, problem);
    bindConflict(model, conflict);
    bindPast(model, past);

    const read = () =>
      [...table.tBodies[0].rows].map((row) =>
        Object.fromEntries([...row.querySelectorAll("[data-field]")].map((field) => [field.dataset.field, field.value])),
      );
    const send = (rows) => model.send({ rows });
    const swap = (rows, a, b) => {
      [rows[a], rows[b]] = [rows[b], rows[a]];
      return rows;
    };
    // Rows are drawn anew after each change; the focus goes back to the same place.
    const focused = () => {
      const at = document.activeElement?.closest?.("tr[data-row]");
      return at && el.contains(at) ? [at.dataset.row, document.activeElement.dataset.field ?? document.activeElement.dataset.act] : null;
    };
    const drawRows = () => {
      const place = focused();
      const columns = model.get("columns");
      const rows = model.get("rows");
      const head = make("tr", {}, ...columns.map((column) => make("th", { scope: "col", textContent: column.label })), make("th"));
      const body = make("tbody");
      rows.forEach((row, number) => {
        const act = (words, label, name, go, disabled = false) =>
          button(words, go, { ariaLabel: `${label} row ${number + 1}`, title: label, "data-act": name, disabled });
        body.append(
          make("tr", { "data-row": number },
            ...columns.map((column) =>
              make("td", {}, rowField(column, row[column.name] ?? "", `${column.label}, row ${number + 1}`, () => send(read())))),
            make("td", {},
              act("↑", "Move up", "up", () => send(swap(read(), number, number - 1)), number === 0), " ",
              act("↓", "Move down", "down", () => send(swap(read(), number, number + 1)), number === rows.length - 1), " ",
              act("Remove", "Remove", "remove", () => send(read().filter((_, i) => i !== number)))),
          ),
        );
      });
      table.replaceChildren(make("thead", {}, head), body);
      if (place) {
        const row = body.rows[Math.min(Number(place[0]), body.rows.length - 1)];
        row?.querySelector(`[data-field="${place[1]}"], [data-act="${place[1]}"]`)?.focus();
      }
    };
    const drawFields = () => {
      fields.replaceChildren(
        ...model.get("fields").map((one) =>
          make("label", { className: "lk-chooser" }, `${one.label} `,
            rowField(one, one.value, one.label, (event) => model.send({ field: { [one.name]: event.target.value } }))),
        ),
      );
      fields.hidden = model.get("fields").length === 0;
    };
    tools.append(button("Add a row", () => send([...read(), { ...model.get("empty_row") }]), { className: "lk-add" }));
    const reset = button(model.get("reset_words"), () => send([]));
    reset.hidden = !model.get("reset_words");
    model.on("change:reset_words", () => {
      reset.textContent = model.get("reset_words");
      reset.hidden = !model.get("reset_words");
    });
    tools.append(reset);
    bindUndo(model, el, tools);
    el.append(bar, table, tools, fields, problem, conflict, figure, past);
    const drawFigure = () => (figure.innerHTML = model.get("html"));
    drawRows();
    drawFields();
    drawFigure();
    for (const name of ["rows", "columns"]) model.on(`change:${name}`, drawRows);
    model.on("change:fields", drawFields);
    model.on("change:html", drawFigure);
  },
};
