// Where a sound comes from. The page carries some of them; others lie beside it as files, some
// of these at another tempo. A source is [tempo in per cent, address]; the address of what the
// page carries is empty.

// In the folder a build makes, the public page lies one below the files it speaks of.
const BESIDE = /\/public\/(index\.html)?$/.test(location.pathname) ? "../" : "";

class Sources {
  constructor() {
    this.missing = new Set();
    this.carried = new Map();
  }

  // The rendering nearest to the wanted tempo; what the page carries before what lies beside.
  best(level, mix, percent) {
    const far = ([step]) => Math.abs(Math.log(percent / step));
    const found = (level.sources[mix] ?? [])
      .filter(([, path]) => !this.missing.has(path))
      .sort((one, other) => far(one) - far(other) || one[1].length - other[1].length);
    if (!found.length) return null;
    const [step, path] = found[0];
    return { step, path, address: path ? BESIDE + path : this.carriedAddress(level.name, mix) };
  }

  carriedAddress(level, mix) {
    const name = `${level}/${mix}`;
    if (!this.carried.has(name)) {
      const holder = document.querySelector(`script[data-audio="${name}"]`);
      const blob = new Blob([bytesOf(holder.textContent)], { type: holder.dataset.mime });
      this.carried.set(name, URL.createObjectURL(blob));
    }
    return this.carried.get(name);
  }
}
