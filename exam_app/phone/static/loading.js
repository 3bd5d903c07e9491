// Load Python in a worker, as the app and the maker of its snapshots both do.
import createPyodideModule from "./pyodide/pyodide.asm.mjs";
import { loadPyodide } from "./pyodide/pyodide.mjs";

export const FOLDER = "/app";
export const LIBRARY = "/lib/python314.zip";
// Where the app's modules and the packages they use lie.
export const ADD_PATHS = `sys.path[:0] = ["${FOLDER}/__pypackages__", "${FOLDER}"]`;

// With the library's archive that was kept, if one was, and with more of Pyodide's options.
export async function loadPython(library, more = {}) {
  const place = library && URL.createObjectURL(new Blob([library]));
  try {
    return await loadPyodide({
      stdout: (text) => console.log(text),
      stderr: (text) => console.error(text),
      ...(place && { stdLibURL: place }),
      ...more,
    });
  } finally {
    if (place) URL.revokeObjectURL(place);
  }
}

// What a snapshot begins with says, among others, where the memory itself begins.
const BEGIN_AT = 4;
const PAGE = 65_536;

// Options for a Python whose memory is copied from a part that was kept, piece by piece:
// Pyodide would hold all of it twice, and gets only what stands before. Its own memory
// begins at one size whatever it is told, so that it has to grow first.
export async function restoredFrom({ length, pieces }) {
  const { value } = await pieces.next();
  const begin = new DataView(value.buffer).getUint32(BEGIN_AT, true);
  const size = length - begin;
  const [head, firstOfMemory] = [value.slice(0, begin), value.slice(begin)];
  const withMemory = async ({ instantiateWasm, ...settings }) => {
    const grown = (imports, begun) => instantiateWasm(imports, (instance, module) => {
      const own = instance.exports.memory;
      const lacking = Math.ceil((size - own.buffer.byteLength) / PAGE);
      if (lacking > 0) own.grow(lacking);
      begun(instance, module);
    });
    const made = await createPyodideModule({ ...settings, instantiateWasm: grown });
    made.HEAPU8.set(firstOfMemory);
    let at = firstOfMemory.length;
    for await (const piece of pieces) {
      made.HEAPU8.set(piece, at);
      at += piece.length;
    }
    return made;
  };
  return { _loadSnapshot: head, createPyodideModule: withMemory };
}
