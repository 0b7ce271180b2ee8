// A figure under its choosers; the kernel sends its markup.

export default {
  render({ model, el }) {
    el.classList.add("lk-live");
    guardKeys(el);
    const bar = make("div", { className: "lk-bar", role: "group", ariaLabel: "Choices" });
    const problem = make("p", { className: "lk-problem", role: "alert" });
    const said = make("p", { className: "lk-said", role: "status" });
    const figure = make("div", { className: "lk-body" });
    el.append(bar, problem, figure, said);

    const choose = (name, value) => model.send({ choose: { [name]: value } });
    bindChoosers(model, bar, choose);
    bindProblem(model, problem);

    let drawn = false;
    const draw = () => {
      figure.innerHTML = model.get("html");
      if (drawn) said.textContent = `Now shown: ${figure.querySelector(".lk-caption")?.textContent ?? ""}`;
      drawn = true;
    };
    draw();
    model.on("change:html", draw);
  },
};
