// The notation of a level for an instrument, and the figures of the text as they look for it. A
// pack is opened when it is first asked for and kept; the first one stands in the page.

class Packs {
  constructor(shelf) {
    this.shelf = shelf;
    this.opened = new Map();
  }

  named(name) {
    if (!this.opened.has(name)) {
      const opening = this.open(name);
      this.opened.set(name, opening);
      // What could not be fetched may be asked for again.
      opening.catch(() => this.opened.delete(name));
    }
    return this.opened.get(name);
  }

  async open(name) {
    const holder = document.querySelector(`script[data-pack="${name}"]`);
    if (holder) return JSON.parse(await unpackedLater(holder.textContent));
    return JSON.parse(await this.text(`page/${name.replace("/", "-")}.js`));
  }

  // The text packed in a file that holds nothing else.
  async text(path) {
    let text = "";
    await this.shelf.read(path, async (_, base64) => { text = await unpackedLater(base64); });
    return text;
  }
}
