// The performance as a row of buttons, each as wide as it is long: where you are, and a way
// to go elsewhere. It is also what the form charts in the text point at.

class Strip {
  constructor(holder, clock, onPassage) {
    this.holder = holder;
    this.clock = clock;
    this.onPassage = onPassage;
    this.buttons = [];
    this.passages = [];
  }

  show() {
    this.passages = this.clock.passages();
    const groups = [];
    let kind = "";
    this.buttons = this.passages.map((passage, place) => {
      const first = this.clock.map[passage.first];
      if (first[KIND] !== kind) {
        kind = first[KIND];
        const group = document.createElement("div");
        group.className = "strip-group";
        group.setAttribute("role", "group");
        group.setAttribute("aria-label", kindWords(kind));
        const label = document.createElement("span");
        label.className = "strip-kind";
        label.textContent = kindWords(kind);
        const row = document.createElement("div");
        row.className = "strip-row";
        group.append(label, row);
        groups.push(group);
      }
      const bars = passage.last - passage.first + 1;
      const group = groups[groups.length - 1];
      group.style.flexGrow = Number(group.style.flexGrow || 0) + bars;
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = first[SECTION];
      button.style.flexGrow = bars;
      button.setAttribute("aria-label", `Play from ${this.clock.describe(passage.first)}`);
      button.addEventListener("click", () => this.onPassage(passage.first));
      group.lastElementChild.append(button);
      return button;
    });
    this.holder.replaceChildren(...groups);
  }

  at(bar) {
    const here = this.passages.findIndex((p) => bar >= p.first && bar <= p.last);
    this.buttons.forEach((button, place) => {
      if (place === here) button.setAttribute("aria-current", "true");
      else button.removeAttribute("aria-current");
    });
    return here;
  }
}
