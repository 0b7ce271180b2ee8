// The form chart: a section is chosen by a click, or by Enter and Space, for the other figures.

const CHART_SVG = "http://www.w3.org/2000/svg";

// A frame round the strip: told by shape, and by `aria-pressed` to those who do not see it.
function frameStrip(strip) {
  const box = strip.getBBox();
  const frame = document.createElementNS(CHART_SVG, "rect");
  const place = { x: box.x - 1.5, y: box.y - 2, width: box.width + 3, height: box.height + 3, rx: 5 };
  for (const [name, value] of Object.entries({ ...place, class: "lk-picked-frame" })) frame.setAttribute(name, value);
  strip.append(frame);
}

export default {
  render({ model, el }) {
    const strips = (figure) => [...figure.querySelectorAll("svg.form-chart [data-section]")];
    const drawPicked = (figure) => {
      figure.querySelectorAll(".lk-picked-frame").forEach((frame) => frame.remove());
      for (const strip of strips(figure)) {
        const isPicked = Number(strip.dataset.section) === model.get("picked");
        strip.setAttribute("aria-pressed", isPicked);
        if (isPicked) frameStrip(strip);
      }
    };
    const prepare = (figure) => {
      // As a picture its parts would be out of reach for a keyboard or a screen reader.
      figure.querySelector("svg.form-chart")?.setAttribute("role", "group");
      for (const strip of strips(figure)) {
        strip.setAttribute("role", "button");
        strip.setAttribute("tabindex", "0");
        strip.setAttribute("aria-label", `${strip.dataset.label}, ${strip.querySelector("text")?.textContent ?? ""}`);
      }
      drawPicked(figure);
    };
    const { figure, said } = showFigure({ model, el }, prepare);
    const hint = "Click a section to see and hear it in the other figures; click it again for the whole tune.";
    figure.before(make("p", { className: "lk-note", textContent: hint }));
    const pick = (event) => {
      const strip = event.target.closest?.("[data-section]");
      if (!strip) return false;
      model.send({ pick: Number(strip.dataset.section) });
      return true;
    };
    figure.addEventListener("click", pick);
    figure.addEventListener("keydown", (event) => {
      if ((event.key === "Enter" || event.key === " ") && pick(event)) event.preventDefault();
    });
    model.on("change:picked", () => {
      drawPicked(figure);
      const strip = strips(figure)[model.get("picked")];
      said.textContent = strip ? `Chosen: ${strip.getAttribute("aria-label")}` : "Chosen: the whole tune";
    });
  },
};
