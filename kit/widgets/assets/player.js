// The player: sound from the kernel, controls, and the notation with the sounding bar lit.

function drawTransport() {
  const play = make("button", { type: "button", className: "lk-play", textContent: "Play" });
  const slider = make("input", { type: "range", min: 0, step: 0.1, value: 0, ariaLabel: "Position" });
  const where = make("output", { className: "lk-where" });
  const bar = make(
    "div",
    { className: "lk-transport", role: "group", ariaLabel: "Player" },
    play,
    slider,
    where,
  );
  return { bar, play, slider, where };
}

export default {
  render({ model, el }) {
    el.classList.add("lk-live");
    guardKeys(el);
    const choices = make("div", { className: "lk-bar", role: "group", ariaLabel: "Choices" });
    const problem = make("p", { className: "lk-problem", role: "alert" });
    const body = make("div", { className: "lk-body" });
    const transport = drawTransport();
    const strip = make("div", { className: "lk-strip", tabIndex: 0, ariaLabel: "Notation; arrow keys go from bar to bar" });
    el.append(choices, problem, transport.bar, strip, body);

    let sound = null; // what is in hand
    let waiting = false; // play was pressed, the sound is on its way
    let coming = false; // the whole performance takes over now
    let from = 0; // where to start once it is here
    let pressed = 0; // when play was pressed
    let shown = -2;
    let frame = 0;

    bindChoosers(model, choices);
    bindProblem(model, problem);

    const isPlaying = () => sound !== null && !sound.audio.paused;
    const seconds = () => (sound ? sound.now() : from);

    const draw = () => {
      const list = model.get("bars");
      const sticks = sound?.inSticks() ?? false;
      const index = sticks ? -1 : barAt(list, seconds());
      if (index !== shown) {
        shown = index;
        const lit = index >= 0 ? light(strip, list[index].id) : unlight(strip);
        if (lit && isPlaying()) follow(strip, lit);
        el.dataset.bar = index;
      }
      const early = sticks || (list.length > 0 && seconds() < list[0].start);
      const words = index >= 0 ? list[index].words : early ? "count-in" : "";
      transport.where.textContent = `${clockText(seconds())} / ${clockText(model.get("seconds"))}  ${words}`;
      transport.slider.max = model.get("seconds");
      transport.slider.value = seconds();
      transport.slider.ariaValueText = `${clockText(seconds())}, ${words}`;
      transport.play.textContent = waiting ? "Rendering…" : isPlaying() ? "Pause" : "Play";
    };
    const tick = () => {
      draw();
      frame = requestAnimationFrame(tick);
    };
    const drop = () => {
      from = Math.max(0, seconds());
      sound?.close();
      sound = null;
      waiting = false;
      cancelAnimationFrame(frame);
    };
    const ask = () => {
      waiting = true;
      pressed = performance.now();
      model.send({ play: { from } });
      draw();
    };
    const start = () =>
      sound.audio.play().catch((error) => {
        problem.textContent = `The browser did not start the sound: ${error.message}`;
        problem.hidden = false;
      });
    const seek = (moment) => {
      from = moment;
      if (sound?.holds(moment)) sound.moveTo(moment);
      else if (sound) {
        // Beyond the opening, or outside the loop.
        const go = isPlaying();
        drop();
        from = moment;
        if (go) ask();
      }
      draw();
    };
    const listen = (audio) => {
      audio.addEventListener("playing", () => {
        // How long the first sound took, for whoever measures it.
        if (pressed) el.dataset.firstSoundMs = Math.round(performance.now() - pressed);
        pressed = 0;
        cancelAnimationFrame(frame);
        frame = requestAnimationFrame(tick);
      });
      audio.addEventListener("seeked", draw);
      for (const event of ["pause", "ended"]) {
        audio.addEventListener(event, () => {
          if (sound?.audio !== audio) return;
          cancelAnimationFrame(frame);
          // The opening is over before the rest is here: go on as soon as it is.
          if (event === "ended" && sound.kind === "opening") {
            from = sound.now();
            waiting = from < model.get("seconds") - 0.5;
          }
          draw();
        });
      }
    };

    transport.play.addEventListener("click", () => {
      if (waiting) return;
      if (!sound) ask();
      else if (isPlaying()) sound.audio.pause();
      else start();
    });
    transport.slider.addEventListener("input", () => seek(Number(transport.slider.value)));
    strip.addEventListener("click", (event) => {
      const id = barUnder(strip, event.clientX, event.clientY);
      const places = model.get("bars").filter((one) => one.id === id);
      const next = places.find((one) => one.start >= seconds() - 0.05) ?? places[0];
      if (next) seek(next.start);
    });
    strip.addEventListener("keydown", (event) => {
      const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (!step) return;
      event.preventDefault();
      const list = model.get("bars");
      const place = Math.min(Math.max(shown + step, 0), list.length - 1);
      seek(list[place].start);
    });

    model.on("msg:custom", async (message, buffers) => {
      if (!message.audio || message.audio.key !== model.get("key") || coming) return;
      const { kind } = message.audio;
      const isNew = waiting || !sound || (sound.kind === "opening" && kind === "whole");
      if (!isNew) return; // asked for twice
      const fresh = openSound(message.audio, buffers[0]);
      listen(fresh.audio);
      if (sound?.kind === "opening" && fresh.kind === "whole" && !waiting) {
        coming = true;
        const opening = sound;
        sound = fresh;
        await takeOver(opening, fresh).finally(() => (coming = false));
        draw();
        return;
      }
      const go = waiting;
      sound?.close();
      sound = fresh;
      if (fresh.kind !== "loop") fresh.moveTo(from);
      waiting = false;
      if (go) start();
      draw();
    });
    model.on("change:problem", () => {
      if (!model.get("problem")) return;
      waiting = false;
      draw();
    });
    // Another level, mix, tempo or loop is another sound. At another tempo the same bar goes
    // on; another instrument only changes the notes.
    let before = null;
    const change = () => {
      const key = model.get("key");
      if (before && before.key !== key) {
        const was = barAt(before.bars, seconds());
        // Play may have been pressed before the choice had come back.
        const go = isPlaying() || waiting;
        drop();
        const list = model.get("bars");
        from = was >= 0 && before.bars[was].id === list[was]?.id ? list[was].start : 0;
        if (go) ask();
      }
      before = { key, bars: model.get("bars") };
      draw();
    };
    const drawStrip = () => {
      strip.innerHTML = model.get("strip");
      shown = -2;
      draw();
    };
    const drawBody = () => (body.innerHTML = model.get("html"));
    drawBody();
    drawStrip();
    change();
    model.on("change:html", drawBody);
    model.on("change:strip", drawStrip);
    // The kernel changes bars, length and key in one message; the key is looked at last.
    model.on("change:bars change:key", () => queueMicrotask(change));
    model.send({ ready: true });

    return drop;
  },
};
