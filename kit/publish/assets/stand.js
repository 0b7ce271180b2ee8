// The music stand: the notation and the player, nothing else, and a screen that stays awake.

class Stand {
  constructor(score) {
    this.score = score;
    this.lock = null;
    one("#stand").addEventListener("click", () => this.set(!this.isOn));
    one("#larger").addEventListener("click", () => this.setLarger(!document.body.classList.contains("larger")));
    addEventListener("keydown", (event) => { if (event.key === "Escape" && this.isOn) this.set(false); });
    document.addEventListener("visibilitychange", () => { if (!document.hidden) this.keepAwake(); });
    this.setLarger(recall("larger", false) === true);
  }

  get isOn() { return document.body.classList.contains("stand"); }

  set(on) {
    document.body.classList.toggle("stand", on);
    one("#stand").setAttribute("aria-pressed", String(on));
    one("#larger").hidden = !on;
    this.score.fit();
    this.keepAwake();
  }

  setLarger(on) {
    document.body.classList.toggle("larger", on);
    one("#larger").setAttribute("aria-pressed", String(on));
    remember("larger", on);
    this.score.fit();
  }

  // Not every browser can, and none does for a page opened from disk; the lesson goes on.
  async keepAwake() {
    if (!this.isOn) {
      await this.lock?.release();
      this.lock = null;
    } else if ("wakeLock" in navigator) {
      try {
        this.lock = await navigator.wakeLock.request("screen");
      } catch (error) {
        if (error.name !== "NotAllowedError") throw error;
      }
    }
  }
}
