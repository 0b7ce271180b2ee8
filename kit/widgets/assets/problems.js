// The problems: each with a button that shows its bars in the figures they can be mended in.

export default {
  render({ model, el }) {
    const addButtons = (figure) => {
      for (const item of figure.querySelectorAll(".lk-finding[data-first]")) {
        const { first, last, level, instrument } = item.dataset;
        const words = first === last ? `Go to bar ${first}` : `Go to bars ${first} to ${last}`;
        const go = make("button", { type: "button", className: "lk-go", textContent: words });
        go.addEventListener("click", () => {
          model.send({ go: { first: Number(first), last: Number(last), level, instrument } });
          showWhere();
        });
        item.append(go);
      }
    };
    // The bench, if there is one, is where a note is mended; else the first excerpt.
    const showWhere = () => {
      const notebook = el.closest(".jp-Notebook") ?? document;
      const known = [...notebook.querySelectorAll(".lk-live[data-goes-to-bars]")];
      const where = known.find((view) => view.classList.contains("lk-bench-view")) ?? known[0];
      said.textContent = where
        ? "The bars are shown in the figures that follow."
        : "No bench or excerpt is drawn yet that could show these bars: run its cell.";
      if (!where) return;
      const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
      where.scrollIntoView({ behavior: calm ? "auto" : "smooth", block: "start" });
    };
    const { said } = showFigure({ model, el }, addButtons);
  },
};
