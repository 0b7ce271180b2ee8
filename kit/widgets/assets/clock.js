// Which bar sounds at a moment, and how is it lit?

// The bars start in rising order; the last one begun is the one that sounds.
function barAt(bars, seconds) {
  let low = 0;
  let high = bars.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (bars[middle].start <= seconds) low = middle + 1;
    else high = middle;
  }
  const index = low - 1;
  return index >= 0 && seconds < bars[index].end ? index : -1;
}

const SVG = "http://www.w3.org/2000/svg";

function unlight(strip) {
  strip.querySelectorAll(".lk-lit-box").forEach((box) => box.remove());
  strip.querySelectorAll(".lk-lit").forEach((bar) => bar.classList.remove("lk-lit"));
}

// A box behind the bar, so that it stands out by shape and not by colour alone.
function light(strip, id) {
  unlight(strip);
  const bar = strip.querySelector(`[data-id="${CSS.escape(id)}"]`);
  if (!bar) return null;
  const { x, y, width, height } = bar.getBBox();
  const box = document.createElementNS(SVG, "rect");
  for (const [name, value] of Object.entries({ x, y, width, height, class: "lk-lit-box" })) {
    box.setAttribute(name, value);
  }
  bar.prepend(box);
  bar.classList.add("lk-lit");
  return bar;
}

// Keep the lit bar in view inside the strip, and leave the page where it is.
function follow(strip, bar) {
  const frame = strip.getBoundingClientRect();
  const place = bar.getBoundingClientRect();
  if (place.top < frame.top || place.bottom > frame.bottom) {
    const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
    strip.scrollBy({
      top: place.top - frame.top - 16,
      behavior: calm ? "auto" : "smooth",
    });
  }
}

// The bar under a point. Only ink takes clicks in a drawing, so the boxes are asked.
function barUnder(strip, x, y) {
  for (const bar of strip.querySelectorAll(".measure")) {
    const box = bar.getBoundingClientRect();
    if (x >= box.left && x < box.right && y >= box.top && y < box.bottom) return bar.dataset.id;
  }
  return null;
}

const clockText = (seconds) => {
  const whole = Math.max(0, Math.floor(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
};
