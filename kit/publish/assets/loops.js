// What is repeated: a passage of the performance, or bars by their printed numbers.

class Loops {
  constructor(clock, score) {
    this.clock = clock;
    this.score = score;
    this.passages = [];
    for (const id of ["#loop", "#from", "#to"]) one(id).addEventListener("change", () => this.set());
    one("#counts-in").addEventListener("change", (event) => clock.setCountsIn(event.target.checked));
  }

  fill(passages) {
    this.passages = passages;
    const options = passages.map((passage, place) => {
      const option = document.createElement("option");
      const from = this.clock.map[passage.first], to = this.clock.map[passage.last];
      option.value = place;
      option.textContent =
        `${kindWords(from[KIND])} ${from[SECTION]}, bars ${from[NUMBER]}–${to[NUMBER]}`;
      return option;
    });
    const select = one("#loop");
    select.replaceChildren(select.options[0], select.options[1], ...options);
    select.value = "";
    this.set();
  }

  set() {
    const wanted = one("#loop").value;
    one(".bars").hidden = wanted !== "bars";
    one(".counts-in").hidden = wanted === "";
    const range = this.rangeOf(wanted);
    const trouble = wanted === "bars" && !range ? this.trouble() : "";
    one("#loop-trouble").textContent = trouble;
    for (const id of ["#from", "#to"]) one(id).setAttribute("aria-invalid", String(trouble !== ""));
    this.clock.setLoop(range);
    const shown = range ? this.clock.map.slice(range[0], range[1] + 1) : [];
    this.score.markLoop(new Set(shown.map((entry) => entry[SHEET])));
  }

  rangeOf(wanted) {
    if (wanted === "") return null;
    if (wanted === "bars") return this.numbered(Number(one("#from").value), Number(one("#to").value));
    const passage = this.passages[Number(wanted)];
    return [passage.first, passage.last];
  }

  // The first stretch of the performance that goes from one printed bar to another.
  numbered(from, to) {
    const first = this.clock.map.findIndex((entry) => entry[NUMBER] === from);
    if (first < 0) return null;
    const ahead = this.clock.map.slice(first).findIndex((entry) => entry[NUMBER] === to);
    return ahead < 0 ? null : [first, first + ahead];
  }

  trouble() {
    const numbers = this.clock.map.map((entry) => entry[NUMBER]);
    return `Choose two bars in playing order, from ${Math.min(...numbers)} to ${Math.max(...numbers)}.`;
  }
}
