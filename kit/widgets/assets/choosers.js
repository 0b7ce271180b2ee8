// Select boxes and the "for all" box above a figure; shared by every view.

const make = (tag, properties = {}, ...children) => {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (name in element) element[name] = value;
    else element.setAttribute(name, value);
  }
  element.append(...children);
  return element;
};

function drawSelect(chooser, choose) {
  const select = make("select", { className: "lk-select", "data-chooser": chooser.name });
  for (const [value, text] of chooser.options) {
    select.append(new Option(text, value, false, value === chooser.value));
  }
  select.addEventListener("change", () => choose(chooser.name, select.value));
  return make("label", { className: "lk-chooser" }, `${chooser.label} `, select);
}

// Keep a select box, and the focus in it, while only its value changes.
function refreshSelect(select, chooser) {
  const same =
    select.options.length === chooser.options.length &&
    chooser.options.every(
      ([value, text], i) => select.options[i].value === value && select.options[i].text === text,
    );
  if (!same) {
    select.replaceChildren(...chooser.options.map(([value, text]) => new Option(text, value)));
  }
  select.value = chooser.value;
}

function bindChoosers(model, bar, choose) {
  const draw = () => {
    const choosers = model.get("choosers");
    for (const chooser of choosers) {
      const select = bar.querySelector(`select[data-chooser="${chooser.name}"]`);
      if (select) refreshSelect(select, chooser);
      else bar.append(drawSelect(chooser, choose));
    }
  };
  draw();
  model.on("change:choosers", draw);
  if (!model.get("shares")) return;
  const box = make("input", { type: "checkbox", checked: model.get("follow") });
  box.addEventListener("change", () => {
    model.set("follow", box.checked);
    model.save_changes();
  });
  model.on("change:follow", () => (box.checked = model.get("follow")));
  const instrument = bar.querySelector('select[data-chooser="instrument"]').parentElement;
  instrument.after(
    make(
      "label",
      { className: "lk-chooser", title: "Change the instrument in all figures of this lesson" },
      box,
      " for all figures",
    ),
  );
}

// JupyterLab must not take keys meant for our controls as its own shortcuts.
function guardKeys(el) {
  el.dataset.lmSuppressShortcuts = "true";
  el.addEventListener("keydown", (event) => event.stopPropagation());
}

// A live region says what has changed, in a few words, once.
function bindProblem(model, place) {
  const draw = () => {
    place.textContent = model.get("problem");
    place.hidden = !model.get("problem");
  };
  draw();
  model.on("change:problem", draw);
}
