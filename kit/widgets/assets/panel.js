// A panel: regions of markup from the kernel, buttons that send what they are called.

const MOST_BYTES = 8_000_000; // what a notebook's connection carries in one message

// Where a file lies for JupyterLab: beside the notebook this panel stands in. The address
// bar names the notebook in use, and only the notebook in use can be clicked.
function besideNotebook(path) {
  const match = location.pathname.match(/\/(?:tree|notebooks)\/(.+)$/);
  if (!match) return null;
  const folder = decodeURIComponent(match[1]).split("/").slice(0, -1);
  for (const step of path.split("/")) {
    if (step === "..") folder.pop();
    else folder.push(step);
  }
  return folder.join("/");
}

// JupyterLab opens what a link's command names, and so does Notebook 7.
function openDocument(link) {
  const path = besideNotebook(link.dataset.open);
  if (path === null) return false;
  link.dataset.commandlinkerCommand = "docmanager:open";
  link.dataset.commandlinkerArgs = JSON.stringify({ path });
  return true;
}

function fieldsOf(button) {
  const values = { ...button.dataset };
  delete values.do;
  const form = button.closest("[data-form]");
  const fields = form?.matches("[data-field]") ? [form] : form?.querySelectorAll("[data-field]");
  for (const field of fields ?? []) {
    if (field.type === "checkbox") values[field.dataset.field] = field.checked ? field.value : "";
    else if (field.type !== "file") values[field.dataset.field] = field.value;
    else if (field.files.length) values.file = field.files[0].name;
  }
  return values;
}

function fileOf(button) {
  const field = button.closest("[data-form]")?.querySelector('input[type="file"]');
  return field?.files[0] ?? null;
}

// New content may take the place of the control in use: its successor takes the focus.
function replaceContent(place, html) {
  const active = place.getRootNode().activeElement;
  const key = place.contains(active) ? active.dataset.key : undefined;
  const open = new Set([...place.querySelectorAll("details[open]")].map((d) => d.dataset.key));
  place.innerHTML = html;
  for (const details of place.querySelectorAll("details")) {
    if (open.has(details.dataset.key)) details.open = true;
  }
  if (key) place.querySelector(`[data-key="${CSS.escape(key)}"]`)?.focus();
  for (const log of place.querySelectorAll(".lk-log")) log.scrollTop = log.scrollHeight;
}

export default {
  render({ model, el }) {
    el.classList.add("lk-live");
    guardKeys(el);
    const problem = make("p", { className: "lk-problem", role: "alert" });
    const said = make("p", { className: "lk-said", role: "status" });
    const panel = make("section", { className: "lk-panel", ariaLabel: model.get("label") });
    el.append(panel, problem, said);
    bindProblem(model, problem);
    const places = {};
    const shown = {};

    const draw = () => {
      const regions = model.get("regions");
      for (const name of Object.keys(places).filter((known) => !(known in regions))) {
        places[name].remove();
        delete places[name];
        delete shown[name];
      }
      for (const [name, html] of Object.entries(regions)) {
        if (!places[name]) {
          places[name] = make("div", { className: `lk-region lk-region-${name}` });
          panel.append(places[name]);
        }
        if (shown[name] === html) continue;
        shown[name] = html;
        replaceContent(places[name], html);
      }
      keepNewest();
    };
    // A select box keeps what was chosen last, though the kernel still answers the one before.
    const keepNewest = () => {
      for (const field of panel.querySelectorAll("select[data-do]")) {
        const newest = choices.newest(field.dataset.field);
        if (newest) field.value = newest.values[field.dataset.field];
      }
    };
    const choices = choiceSender(model, (_, content) => model.send(content), keepNewest);
    draw();
    model.on("change:regions", draw);
    model.on("change:said", () => (said.textContent = model.get("said")));

    const send = async (button) => {
      const content = { do: button.dataset.do, values: fieldsOf(button) };
      const file = fileOf(button);
      if (!file) return model.send(content);
      if (file.size > MOST_BYTES) {
        problem.textContent = `${file.name} is too large to send; type its path instead.`;
        problem.hidden = false;
        return undefined;
      }
      return model.send(content, undefined, [await file.arrayBuffer()]);
    };
    panel.addEventListener("click", (event) => {
      const link = event.target.closest("a[data-open]");
      if (link && !openDocument(link)) {
        event.preventDefault();
        problem.textContent = `Open ${link.dataset.open} in your file list.`;
        problem.hidden = false;
      }
      const button = event.target.closest("button[data-do]");
      if (button) send(button);
    });
    // Pictures come as bytes, so that they are never saved with the notebook.
    const sources = {};
    model.on("msg:custom", (message, buffers) => {
      const picture = panel.querySelector(`[data-picture="${CSS.escape(message.picture ?? "")}"]`);
      if (!picture) return;
      if (sources[message.picture]) URL.revokeObjectURL(sources[message.picture]);
      sources[message.picture] = URL.createObjectURL(new Blob([buffers[0]], { type: message.mime }));
      picture.src = sources[message.picture];
      picture.alt = message.alt;
      picture.hidden = false;
    });
    // Drawn by a browser, so somebody is there to see what takes its time.
    model.send({ do: "ready" });
    // A choice made, or a file picked, is sent at once where the field says so.
    panel.addEventListener("change", (event) => {
      const field = event.target;
      if (field.matches("select[data-do]")) {
        choices.choose(field.dataset.field, { do: field.dataset.do, values: fieldsOf(field) });
      } else if (field.matches("[data-do]:not(button)")) send(field);
    });
    panel.addEventListener("keydown", (event) => {
      if (event.key !== "Enter" || !event.target.matches("input[data-field]")) return;
      event.target.closest("[data-form]")?.querySelector("button[data-do]")?.click();
    });
    return () => Object.values(sources).forEach((source) => URL.revokeObjectURL(source));
  },
};
