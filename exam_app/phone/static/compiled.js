// Keep what Python has compiled on this device, so that later starts compile nothing.
//
// Three parts: the standard library's archive with compiled modules in it; the app's
// folder as it was unpacked, with what Python wrote beside its modules; and Python's
// memory once it had imported them. All are made here out of checked files, belong to one
// release, and lie with the SHA-256 of each of their pieces: a part that has another one
// is left aside and made anew. Nothing of an exam is in them.

const CACHE = "exam-compiled";
const DIGESTS = "X-SHA-256";
const LENGTH = "X-Length";
const PIECE = 1 << 20;
// Python asks the folder's modules for no other proof than that the part was whole.
const UNCHECKED = 1;

const keyOf = (release, part) => `/compiled/${release}/${part}`;

async function digestOf(bytes) {
  const hash = await crypto.subtle.digest("SHA-256", bytes);
  return Array.from(new Uint8Array(hash), (one) => one.toString(16).padStart(2, "0")).join("");
}

function* cut(bytes) {
  for (let at = 0; at < bytes.length; at += PIECE) yield bytes.subarray(at, at + PIECE);
}

async function digestsOf(bytes) {
  return (await Promise.all(Array.from(cut(bytes), digestOf))).join();
}

async function find(release, part) {
  return (await caches.open(CACHE)).match(keyOf(release, part));
}

// A part as it was kept, its bytes not looked at yet, or nothing: none was.
export async function findPart(release, part) {
  const kept = await find(release, part);
  return kept && { length: Number(kept.headers.get(LENGTH)), pieces: piecesOf(kept) };
}

// Where a browser can, every piece comes in the same room.
async function* unchecked(kept) {
  let reader;
  try {
    reader = kept.body.getReader({ mode: "byob" });
  } catch {
    yield* cut(new Uint8Array(await kept.arrayBuffer()));
    return;
  }
  let room = new ArrayBuffer(PIECE);
  for (let isOver = false; !isOver; ) {
    let filled = 0;
    while (filled < PIECE && !isOver) {
      const { value, done } = await reader.read(new Uint8Array(room, filled));
      room = value.buffer;
      filled += value.length;
      isOver = done;
    }
    if (filled) yield new Uint8Array(room, 0, filled);
  }
}

// Each is to be copied before the next is asked for; a damaged one is an error.
async function* piecesOf(kept) {
  const digests = kept.headers.get(DIGESTS).split(",");
  for await (const piece of unchecked(kept)) {
    if ((await digestOf(piece)) !== digests.shift()) throw new Error("A part is damaged.");
    yield piece;
  }
  if (digests.length) throw new Error("A part is cut off.");
}

// A part as it was kept, or nothing: none was, it is damaged, or the browser refuses.
async function readPart(release, part) {
  try {
    const kept = await find(release, part);
    if (!kept) return undefined;
    const bytes = new Uint8Array(await kept.arrayBuffer());
    return (await digestsOf(bytes)) === kept.headers.get(DIGESTS) ? bytes : undefined;
  } catch {
    return undefined;
  }
}

// The library's archive and the app's folder.
export function readCompiled(release) {
  return Promise.all(["library", "folder"].map((part) => readPart(release, part)));
}

// Where there is no room nothing is kept: it belongs to the exams.
export async function keepPart(release, part, bytes) {
  try {
    const cache = await caches.open(CACHE);
    for (const { url } of await cache.keys()) {
      if (!new URL(url).pathname.startsWith(keyOf(release, ""))) await cache.delete(url);
    }
    const headers = { [DIGESTS]: await digestsOf(bytes), [LENGTH]: bytes.length };
    await cache.put(keyOf(release, part), new Response(bytes, { headers }));
  } catch {
    await dropParts();
  }
}

export async function dropParts() {
  try {
    await caches.delete(CACHE);
  } catch {
    // Where nothing may be kept, nothing is.
  }
}

function filesBelow(files, folder) {
  return files.readdir(folder).flatMap((name) => {
    if (name === "." || name === "..") return [];
    const path = `${folder}/${name}`;
    return files.isDir(files.stat(path).mode) ? filesBelow(files, path) : [path];
  });
}

export function compiledCount(files, folder) {
  return filesBelow(files, folder).filter((path) => path.endsWith(".pyc")).length;
}

// Bytes 4 to 16 of a compiled module say what it was made of: here, the same release.
function readFile(files, path) {
  const content = files.readFile(path);
  if (path.endsWith(".pyc")) {
    content.fill(0, 4, 16);
    content[4] = UNCHECKED;
  }
  return content;
}

// The length of the list as four bytes, low first; the list of paths and lengths as JSON;
// then the files' contents one after the other.
export function packFolder(files, folder) {
  const paths = filesBelow(files, folder);
  const contents = paths.map((path) => readFile(files, path));
  const listed = paths.map((path, at) => [path, contents[at].length]);
  const list = new TextEncoder().encode(JSON.stringify(listed));
  const parts = [new Uint8Array(new Uint32Array([list.length]).buffer), list, ...contents];
  const packed = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let end = 0;
  for (const part of parts) {
    packed.set(part, end);
    end += part.length;
  }
  return packed;
}

// The files share the packed bytes; nothing is copied.
export function unpackFolder(files, packed) {
  const length = new DataView(packed.buffer).getUint32(0, true);
  let begin = 4 + length;
  const made = new Set();
  const list = JSON.parse(new TextDecoder().decode(packed.subarray(4, begin)));
  for (const [path, size] of list) {
    const parent = path.slice(0, path.lastIndexOf("/"));
    if (!made.has(parent)) files.mkdirTree(parent);
    made.add(parent);
    files.writeFile(path, packed.subarray(begin, begin + size), { canOwn: true });
    begin += size;
  }
}
