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

const SOME_BARS = "bars"; // the value of the option that asks for two numbers
const LOST_MS = 30_000; // a kernel that has not answered by then will not

// Choices go to the kernel one at a time. Of those made meanwhile only the newest of each
// kind waits: nobody wants to see the instruments that were passed over with the arrow keys.
// `post` sends one; `settled` is told when the kernel has answered.
function choiceSender(model, post, settled) {
  const waiting = new Map();
  let sent = null;
  const send = () => {
    if (waiting.size === 0 || (sent && performance.now() - sent.at < LOST_MS)) return;
    const [name, value] = waiting.entries().next().value;
    waiting.delete(name);
    sent = { name, value, at: performance.now() };
    post(name, value);
  };
  model.on("msg:custom", (message) => {
    if (!message.chosen) return;
    sent = null;
    send();
    // The new state is on its way in the same breath.
    setTimeout(settled, 0);
  });
  return {
    choose: (name, value) => {
      waiting.delete(name);
      waiting.set(name, value);
      send();
    },
    newest: (name) => waiting.get(name) ?? (sent?.name === name ? sent.value : undefined),
  };
}

// Two numbers for bars that no list names; sent once both make sense.
function drawBars(label, send) {
  const field = (which) =>
    make("input", { type: "number", min: 0, step: 1, className: "lk-number", ariaLabel: `${label}: ${which} bar` });
  const first = field("first");
  const last = field("last");
  const place = make("span", { className: "lk-chooser", hidden: true }, "from bar ", first, " to ", last);
  const changed = () => {
    if (first.value === "" || last.value === "" || Number(first.value) > Number(last.value)) return;
    place.hidden = true;
    send(`${Number(first.value)}-${Number(last.value)}`);
  };
  first.addEventListener("change", changed);
  last.addEventListener("change", changed);
  return { place, first };
}

function drawSelect(chooser, choose) {
  const select = make("select", { className: "lk-select", "data-chooser": chooser.name });
  for (const [value, text] of chooser.options) {
    select.append(new Option(text, value, false, value === chooser.value));
  }
  const bars = drawBars(chooser.label, (value) => choose(chooser.name, value));
  select.addEventListener("change", () => {
    bars.place.hidden = select.value !== SOME_BARS;
    if (bars.place.hidden) choose(chooser.name, select.value);
    else bars.first.focus();
  });
  const drawn = [make("label", { className: "lk-chooser" }, `${chooser.label} `, select)];
  if (chooser.options.some(([value]) => value === SOME_BARS)) drawn.push(bars.place);
  return drawn;
}

// Keep a select box, and the focus in it, while only its value changes.
function refreshSelect(select, chooser, value) {
  const same =
    select.options.length === chooser.options.length &&
    chooser.options.every(
      ([value, text], i) => select.options[i].value === value && select.options[i].text === text,
    );
  if (!same) {
    select.replaceChildren(...chooser.options.map(([value, text]) => new Option(text, value)));
  }
  select.value = value;
}

function bindChoosers(model, bar) {
  const draw = () => {
    for (const chooser of model.get("choosers")) {
      const select = bar.querySelector(`select[data-chooser="${chooser.name}"]`);
      if (select) refreshSelect(select, chooser, sender.newest(chooser.name) ?? chooser.value);
      else bar.append(...drawSelect(chooser, sender.choose));
    }
  };
  const sender = choiceSender(model, (name, value) => model.send({ choose: { [name]: value } }), draw);
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
      { className: "lk-chooser", title: "One instrument, and the section chosen in the form chart, in all figures of this lesson" },
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
