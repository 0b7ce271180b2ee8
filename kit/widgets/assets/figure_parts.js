// A figure under its choosers; the kernel sends its markup. `drawn` is told of each new drawing.

function showFigure({ model, el }, drawn = () => {}) {
  el.classList.add("lk-live");
  guardKeys(el);
  const bar = make("div", { className: "lk-bar", role: "group", ariaLabel: "Choices" });
  const problem = make("p", { className: "lk-problem", role: "alert" });
  const said = make("p", { className: "lk-said", role: "status" });
  const figure = make("div", { className: "lk-body" });
  el.append(bar, problem, figure, said);
  bindChoosers(model, bar);
  bindProblem(model, problem);

  let first = true;
  const draw = () => {
    figure.innerHTML = model.get("html");
    if (!first) said.textContent = `Now shown: ${figure.querySelector(".lk-caption")?.textContent ?? ""}`;
    first = false;
    drawn(figure);
  };
  draw();
  model.on("change:html", draw);
  return { figure, said };
}
