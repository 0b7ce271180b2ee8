// The page carries the notation of every level and instrument as compressed packs. A pack is
// opened when it is first asked for and kept.

const openedPacks = new Map();

function bytesOf(base64) {
  const text = atob(base64.trim());
  const bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i += 1) bytes[i] = text.charCodeAt(i);
  return bytes;
}

function packNamed(name) {
  if (!openedPacks.has(name)) openedPacks.set(name, openPack(name));
  return openedPacks.get(name);
}

async function openPack(name) {
  const holder = document.querySelector(`script[data-pack="${name}"]`);
  const stream = new Blob([bytesOf(holder.textContent)])
    .stream()
    .pipeThrough(new DecompressionStream("gzip"));
  return JSON.parse(await new Response(stream).text());
}
