const one = (selector) => document.querySelector(selector);

// What the browser remembers for the student: their instrument and the ticked practice steps.
// Storage may be closed (private windows, files on some systems); the page works without it.

function remember(key, value) {
  try {
    localStorage.setItem(`lesson-kit.${key}`, JSON.stringify(value));
  } catch (error) {
    if (!(error instanceof DOMException)) throw error;
  }
}

function recall(key, otherwise) {
  try {
    const text = localStorage.getItem(`lesson-kit.${key}`);
    return text === null ? otherwise : JSON.parse(text);
  } catch (error) {
    if (error instanceof DOMException || error instanceof SyntaxError) return otherwise;
    throw error;
  }
}
