// Keep what Python has compiled on this device, so that later starts compile nothing.
//
// Two parts: the standard library's archive with compiled modules in it, and the app's
// folder as it was unpacked, with what Python wrote beside its modules. Both are made
// here out of checked files, belong to one release, and lie with their SHA-256: a part
// that has another one is left aside and made anew. Nothing of an exam is in them.

const CACHE = "exam-compiled";
const DIGEST = "X-SHA-256";
// Python asks the folder's modules for no other proof than that the part was whole.
const UNCHECKED = 1;

const keyOf = (release, part) => `/compiled/${release}/${part}`;

async function digestOf(bytes) {
  const hash = await crypto.subtle.digest("SHA-256", bytes);
  return Array.from(new Uint8Array(hash), (one) => one.toString(16).padStart(2, "0")).join("");
}

// A part as it was kept, or nothing: none was, it is damaged, or the browser refuses.
export async function readPart(release, part) {
  try {
    const kept = await (await caches.open(CACHE)).match(keyOf(release, part));
    if (!kept) return undefined;
    const bytes = new Uint8Array(await kept.arrayBuffer());
    return (await digestOf(bytes)) === kept.headers.get(DIGEST) ? bytes : undefined;
  } catch {
    return undefined;
  }
}

// Where there is no room nothing is kept: it belongs to the exams.
export async function keepPart(release, part, bytes) {
  try {
    const cache = await caches.open(CACHE);
    for (const { url } of await cache.keys()) {
      if (!new URL(url).pathname.startsWith(keyOf(release, ""))) await cache.delete(url);
    }
    const headers = { [DIGEST]: await digestOf(bytes) };
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
