// What sounds: a file, and where it stands on the clock of the performance.

const FADE_MS = 60; // long enough for no click, too short to be heard as a fade

function openSound({ kind, key, start, lead, mime }, bytes) {
  const url = URL.createObjectURL(new Blob([bytes], { type: mime }));
  const audio = new Audio(url);
  audio.loop = kind === "loop";
  const length = () => (Number.isFinite(audio.duration) ? audio.duration : Infinity);
  return {
    kind,
    key,
    audio,
    now: () => audio.currentTime - lead + start,
    // In the sticks before a loop no bar sounds yet.
    inSticks: () => audio.currentTime < lead,
    holds: (moment) => moment >= start && moment < start + length() - lead,
    moveTo: (moment) => (audio.currentTime = Math.max(0, moment - start + lead)),
    close: () => {
      audio.pause();
      audio.removeAttribute("src");
      URL.revokeObjectURL(url);
    },
  };
}

function fadeOut(audio) {
  const began = performance.now();
  return new Promise((done) => {
    const step = () => {
      const share = (performance.now() - began) / FADE_MS;
      audio.volume = Math.max(0, 1 - share);
      if (share < 1) setTimeout(step, 8);
      else {
        audio.pause();
        audio.volume = 1;
        done();
      }
    };
    step();
  });
}

// Let the whole performance take over from its opening, in the middle of the music.
async function takeOver(opening, whole) {
  if (opening.audio.paused) {
    whole.moveTo(opening.now());
    opening.close();
    return;
  }
  whole.audio.volume = 0;
  whole.moveTo(opening.now());
  await whole.audio.play();
  whole.moveTo(opening.now());
  await new Promise((done) => whole.audio.addEventListener("seeked", done, { once: true }));
  whole.audio.volume = 1;
  await fadeOut(opening.audio);
  opening.close();
}
