// The player: audio from the kernel, controls, and the notation with the sounding bar lit.

const RATES = [100, 90, 80, 70, 60, 50];

function drawTransport() {
  const play = make("button", { type: "button", className: "lk-play", textContent: "Play" });
  const slider = make("input", { type: "range", min: 0, step: 0.1, value: 0, ariaLabel: "Position" });
  const rate = make("select", { ariaLabel: "Speed" });
  for (const percent of RATES) rate.append(new Option(`${percent} %`, percent));
  const where = make("output", { className: "lk-where" });
  const bar = make(
    "div",
    { className: "lk-transport", role: "group", ariaLabel: "Player" },
    play,
    slider,
    where,
    make("label", { className: "lk-chooser" }, "Speed ", rate),
  );
  return { bar, play, slider, rate, where };
}

export default {
  render({ model, el }) {
    el.classList.add("lk-live");
    guardKeys(el);
    const choices = make("div", { className: "lk-bar", role: "group", ariaLabel: "Choices" });
    const problem = make("p", { className: "lk-problem", role: "alert" });
    const body = make("div", { className: "lk-body" });
    const transport = drawTransport();
    const strip = make("div", { className: "lk-strip", tabIndex: 0, ariaLabel: "Notation" });
    const audio = new Audio();
    audio.preservesPitch = true;
    el.append(choices, problem, transport.bar, strip, body);

    let source = null; // object URL of the audio in hand
    let waiting = false; // play was pressed, the audio is on its way
    let from = 0; // where to start once it is here
    let shown = -2;
    let frame = 0;

    const choose = (name, value) => model.send({ choose: { [name]: value } });
    bindChoosers(model, choices, choose);
    bindProblem(model, problem);

    const seconds = () => (source ? audio.currentTime : from);
    const length = () => (source && Number.isFinite(audio.duration) ? audio.duration : model.get("seconds"));

    const draw = () => {
      const bars = model.get("bars");
      const index = barAt(bars, seconds());
      if (index !== shown) {
        shown = index;
        const lit = index >= 0 ? light(strip, bars[index].id) : unlight(strip);
        if (lit && !audio.paused) follow(strip, lit);
        el.dataset.bar = index;
      }
      const early = bars.length > 0 && seconds() < bars[0].start;
      const words = index >= 0 ? bars[index].words : early ? "count-in" : "";
      transport.where.textContent = `${clockText(seconds())} / ${clockText(length())}  ${words}`;
      transport.slider.max = length();
      transport.slider.value = seconds();
      transport.slider.ariaValueText = `${clockText(seconds())}, ${words}`;
      transport.play.textContent = waiting ? "Rendering…" : audio.paused ? "Play" : "Pause";
    };
    const tick = () => {
      draw();
      frame = requestAnimationFrame(tick);
    };

    const drop = () => {
      audio.pause();
      audio.removeAttribute("src");
      if (source) URL.revokeObjectURL(source);
      source = null;
      waiting = false;
    };
    const start = () => {
      audio.playbackRate = Number(transport.rate.value) / 100;
      audio.play().catch((error) => {
        problem.textContent = `The browser did not start the sound: ${error.message}`;
        problem.hidden = false;
      });
    };
    const seek = (moment) => {
      from = moment;
      if (source) audio.currentTime = moment;
      draw();
    };

    transport.play.addEventListener("click", () => {
      if (waiting) return;
      if (!source) {
        waiting = true;
        model.send({ render: true });
        draw();
      } else if (audio.paused) start();
      else audio.pause();
    });
    transport.slider.addEventListener("input", () => seek(Number(transport.slider.value)));
    transport.rate.addEventListener("change", () => {
      audio.playbackRate = Number(transport.rate.value) / 100;
    });
    strip.addEventListener("click", (event) => {
      const id = barUnder(strip, event.clientX, event.clientY);
      const bar = model.get("bars").find((one) => one.id === id);
      if (bar) seek(bar.start);
    });
    audio.addEventListener("play", () => {
      cancelAnimationFrame(frame);
      frame = requestAnimationFrame(tick);
    });
    audio.addEventListener("loadedmetadata", draw);
    for (const event of ["pause", "ended"]) {
      audio.addEventListener(event, () => {
        cancelAnimationFrame(frame);
        draw();
      });
    }

    model.on("msg:custom", (message, buffers) => {
      if (!message.audio || !waiting) return;
      waiting = false;
      source = URL.createObjectURL(new Blob([buffers[0]], { type: message.audio.mime }));
      audio.src = source;
      audio.currentTime = from;
      start();
    });
    model.on("change:problem", () => {
      if (!model.get("problem")) return;
      waiting = false;
      draw();
    });
    // Another level or mix is other audio, from the start; another instrument only new notes.
    let playing = "";
    const drawFigure = () => {
      body.innerHTML = model.get("html");
      const now = JSON.stringify(
        model.get("choosers").filter((c) => c.name !== "instrument").map((c) => c.value),
      );
      if (playing && now !== playing) {
        drop();
        from = 0;
      }
      playing = now;
      draw();
    };
    const drawStrip = () => {
      strip.innerHTML = model.get("strip");
      shown = -2;
      draw();
    };
    drawFigure();
    drawStrip();
    model.on("change:choosers", drawFigure);
    model.on("change:strip", drawStrip);

    return () => {
      cancelAnimationFrame(frame);
      drop();
    };
  },
};
