// Where things come from that the page does not hold itself: notation and sound lie in files
// beside it, each a script of lines `lessonKit.put("name","base64");`. The one file that can be
// mailed holds the same lines inside. Opened from disk a page may read a file beside it only by
// running it; on a site it reads it line by line, so that sound begins before all of it is here.

const LINE = /^lessonKit\.put\("([^"]*)","([^"]*)"\);$/;

function bytesOf(base64) {
  if (Uint8Array.fromBase64) return Uint8Array.fromBase64(base64);
  const text = atob(base64);
  const bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i += 1) bytes[i] = text.charCodeAt(i);
  return bytes;
}

class Shelf {
  constructor() {
    this.collecting = null;
    this.turn = Promise.resolve();
    window.lessonKit = { put: (name, base64) => this.collecting?.push([name, base64]) };
  }

  holds(path) {
    return document.querySelector(`script[data-file="${path}"]`) !== null;
  }

  // Give each line of a file to `take(name, base64)`, which may take its time.
  async read(path, take) {
    const holder = document.querySelector(`script[data-file="${path}"]`);
    if (holder) await this.each(linesOf(holder.textContent), take);
    else if (location.protocol.startsWith("http") && window.ReadableStream) await this.stream(path, take);
    else await this.each(await this.run(path), take);
  }

  async each(lines, take) {
    for (const [name, base64] of lines) await take(name, base64);
  }

  async stream(path, take) {
    const answer = await fetch(path);
    if (!answer.ok) throw new Error(`${path}: ${answer.status}`);
    const reader = answer.body.getReader();
    const decoder = new TextDecoder();
    // What has come is taken in while more is coming.
    let rest = "", taken = Promise.resolve(), failure = null;
    for (;;) {
      const { value, done } = await reader.read();
      rest += done ? "\n" : decoder.decode(value, { stream: true });
      const end = rest.lastIndexOf("\n");
      const lines = linesOf(rest.slice(0, end + 1));
      rest = rest.slice(end + 1);
      if (lines.length) taken = taken.then(() => this.each(lines, take)).catch((error) => { failure ??= error; });
      if (done || failure) break;
    }
    await taken;
    if (failure) throw failure;
  }

  // One after the other: a script does not say whose lines it puts.
  run(path) {
    const lines = this.turn.then(() => new Promise((done, failed) => {
      const script = document.createElement("script");
      this.collecting = [];
      script.onload = () => done(this.collecting);
      script.onerror = () => failed(new Error(`${path} is not there`));
      script.src = path;
      document.head.append(script);
      script.remove();
    }));
    this.turn = lines.catch(() => null);
    return lines;
  }
}

function linesOf(text) {
  return text.split("\n").map((line) => LINE.exec(line)).filter(Boolean).map(([, name, base64]) => [name, base64]);
}

// Text that was packed by gzip (RFC 1952) without a name; its last four bytes are its length.
function unpacked(base64) {
  const bytes = bytesOf(base64);
  const length = new DataView(bytes.buffer).getUint32(bytes.length - 4, true);
  return new TextDecoder().decode(inflate(bytes.subarray(10), new Uint8Array(length)));
}

// The same by the browser's own means where it has them: faster, and beside the page's work.
async function unpackedLater(base64) {
  if (!window.DecompressionStream) return unpacked(base64);
  const stream = new Blob([bytesOf(base64)]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(stream).text();
}
