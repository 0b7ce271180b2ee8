// An excerpt: a figure whose bars can be copied or saved, as notation or as a picture.

const COPY_KINDS = [["musicxml", "MusicXML"], ["svg", "SVG"], ["png", "PNG"]];
const COPY_TYPES = { musicxml: "application/vnd.recordare.musicxml+xml", svg: "image/svg+xml", png: "image/png" };
const DOTS_PER_PX = 3; // about 288 dots an inch

// The drawing as a file of its own, without the marks that are meant for the teacher.
function cleanSvg(figure) {
  const svg = figure.querySelector(".lk-notation svg").cloneNode(true);
  svg.querySelectorAll(".lk-ring, .lk-flag").forEach((mark) => mark.remove());
  svg.setAttribute("xmlns", "http://www.w3.org/2000/svg");
  return new XMLSerializer().serializeToString(svg);
}

async function pngOf(svg) {
  const url = URL.createObjectURL(new Blob([svg], { type: COPY_TYPES.svg }));
  try {
    const picture = new Image();
    picture.src = url;
    await picture.decode();
    const canvas = make("canvas", {
      width: Math.round(picture.naturalWidth * DOTS_PER_PX),
      height: Math.round(picture.naturalHeight * DOTS_PER_PX),
    });
    const pen = canvas.getContext("2d");
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
    return await new Promise((done) => canvas.toBlob(done, COPY_TYPES.png));
  } finally {
    URL.revokeObjectURL(url);
  }
}

function saveFile(blob, name) {
  const url = URL.createObjectURL(blob);
  make("a", { href: url, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(url), 10_000);
}

// Text goes as text, so that it can be pasted anywhere; a PNG as the picture it is.
function toClipboard(kind, content) {
  const type = kind === "png" ? "image/png" : "text/plain";
  const plain = content.then((blob) => new Blob([blob], { type }));
  return navigator.clipboard.write([new ClipboardItem({ [type]: plain })]);
}

function bindCopying(model, figure) {
  const asked = []; // who waits for MusicXML from the kernel
  model.on("msg:custom", (message) => {
    if (!message.copied) return;
    for (const done of asked.splice(0)) done(new Blob([message.copied], { type: COPY_TYPES.musicxml }));
  });
  const contentOf = (kind) => {
    if (kind === "svg") return Promise.resolve(new Blob([cleanSvg(figure)], { type: COPY_TYPES.svg }));
    if (kind === "png") return pngOf(cleanSvg(figure));
    model.send({ copy: kind });
    return new Promise((done) => asked.push(done));
  };
  const status = make("span", { className: "lk-status", role: "status" });
  model.on("change:file_name", () => (status.textContent = ""));
  const save = async (kind, content, why = "") => {
    const name = `${model.get("file_name")}.${kind}`;
    saveFile(await content, name);
    status.textContent = `${why}Saved as ${name}.`;
  };
  const copy = async (kind, words) => {
    const content = contentOf(kind);
    try {
      await toClipboard(kind, content);
      status.textContent = `Copied as ${words}.`;
    } catch (error) {
      // Not allowed here, or unknown to this browser: a file does as well.
      await save(kind, content, "This browser does not let the page copy. ");
    }
  };
  const group = (label, act) =>
    make("span", { className: "lk-copying", role: "group", ariaLabel: label }, `${label} `,
      ...COPY_KINDS.map(([kind, words]) => {
        const made = make("button", { type: "button", textContent: words, ariaLabel: `${label} ${words}` });
        made.addEventListener("click", () => act(kind, words));
        return made;
      }));
  return make("div", { className: "lk-bar" },
    group("Copy as", copy),
    group("Save as", (kind) => save(kind, contentOf(kind))),
    status);
}

export default {
  render(view) {
    const { figure } = showFigure(view);
    view.el.dataset.goesToBars = "true";
    figure.after(bindCopying(view.model, figure));
  },
};
