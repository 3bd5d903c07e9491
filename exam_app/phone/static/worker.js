// Start Python and the app's code in it; then carry messages.
//
// Flet's Python side asks for a module `flet_js`, and puts into it how it is connected
// and how it is sent to (its messaging/pyodide_connection.py says so).
import "./codes.js";
import "./pictures.js";
import "./primitives.js";
import {
  compiledCount, dropParts, findPart, keepPart, packFolder, readCompiled, unpackFolder,
} from "./compiled.js";
import { ADD_PATHS, FOLDER, LIBRARY, loadPython, restoredFrom } from "./loading.js";

const flet = { documentUrl: self.name };
// When the page or the app said something last.
let moved = performance.now();

// What one step of the app says goes out together, so that the page draws it at once.
const waiting = [];
function say(message) {
  moved = performance.now();
  waiting.push(message.toJs());
  if (waiting.length > 1) return;
  queueMicrotask(() => {
    const packets = waiting.splice(0);
    self.postMessage(packets, packets.map((packet) => packet.buffer));
  });
}

async function fetchCode() {
  const answer = await fetch("/app.zip");
  if (!answer.ok) throw new Error(`app.zip: ${answer.status}`);
  return answer.arrayBuffer();
}

// Parts of another release are no use; without a keeper none are.
async function releaseName() {
  const answer = await fetch("/release");
  return answer.ok ? (await answer.json()).release : undefined;
}

const LIBRARY_WITH_CODE = "/tmp/python314.zip";

// Python with its memory as an earlier start's was, or nothing where it cannot be had.
async function restorePython(release, library, folder) {
  if (!library || !folder) return undefined;
  try {
    const memory = await findPart(release, "memory");
    if (!memory) return undefined;
    const python = await loadPython(library, await restoredFrom(memory));
    console.debug("Python's memory was put back.");
    return python;
  } catch (error) {
    console.error(error);
    await dropParts();
    return undefined;
  }
}

async function startPython() {
  const release = await releaseName().catch(() => undefined);
  const [library, folder] = await readCompiled(release);
  const coming = folder ? undefined : fetchCode();
  const restored = await restorePython(release, library, folder);
  const python = restored ?? (await loadPython(library));
  python.registerJsModule("flet_js", flet);
  if (folder) {
    unpackFolder(python.FS, folder);
  } else {
    python.unpackArchive(await coming, "zip", { extractDir: FOLDER });
  }
  const begun = compiledCount(python.FS, FOLDER);
  python.runPython(restored ? `
import sys
from exam_app.memory_snapshot import after_restoring
after_restoring()
` : `
import sys
${ADD_PATHS}
`);
  const inMemory = restored ? importedNames(python).length : 0;
  await python.runPythonAsync(`
import runpy
sys.dont_write_bytecode = False
runpy.run_module("phone_start", run_name="__main__")
`);
  await flet.start_connection(say);
  if (release) keepLater(python, release, { hasLibrary: Boolean(library), begun, inMemory });
}

// What is imported by now, which a later start finds in its memory.
function importedNames(python) {
  const names = python.runPython(`
from exam_app.memory_snapshot import imported_names
imported_names()
`);
  try {
    return names.toJs();
  } finally {
    names.destroy();
  }
}

// Where less is left, it belongs to the exams.
const LEAST_ROOM = 500_000_000;

// By a worker of its own, which imports the same and does nothing else.
async function keepMemory(release, names) {
  const { quota, usage } = await navigator.storage.estimate();
  if (quota - usage < LEAST_ROOM) return;
  const maker = new Worker("/snapshot.js", { type: "module" });
  const fault = await new Promise((resolve) => {
    maker.onmessage = ({ data }) => resolve(data);
    maker.onerror = (event) => resolve(event.message || "it did not start");
    maker.postMessage({ release, names });
  });
  maker.terminate();
  if (fault) console.error(`No snapshot of Python was kept: ${fault}`);
}

// After the first screen, and again when screens that were opened since brought more;
// only while nobody taps or types and the app has nothing to say, since Python does one
// thing at a time: what it works at for long is a pause of the person's too.
const FIRST_MS = 15_000;
const AGAIN_MS = 60_000;
const QUIET_MS = 6_000;

self.untilQuiet = async () => {
  for (;;) {
    const left = moved + QUIET_MS - performance.now();
    if (left <= 0) return;
    await new Promise((resolve) => { setTimeout(resolve, left); });
  }
};

function keepLater(python, release, { hasLibrary, begun, inMemory }) {
  let count = begun;
  const keep = async () => {
    await self.untilQuiet();
    if (!hasLibrary) {
      // The memory knows one archive, byte by byte: all parts are made anew.
      await dropParts();
      hasLibrary = true;
      count = inMemory = 0;
      await python.runPythonAsync(`
from js import untilQuiet
from exam_app.compiled_library import add_compiled, loaded_members
members = loaded_members("${LIBRARY}")
await add_compiled("${LIBRARY}", "${LIBRARY_WITH_CODE}", members, untilQuiet)
`);
      await self.untilQuiet();
      await keepPart(release, "library", python.FS.readFile(LIBRARY_WITH_CODE));
      python.FS.unlink(LIBRARY_WITH_CODE);
    }
    await self.untilQuiet();
    const found = compiledCount(python.FS, FOLDER);
    if (found > count) await keepPart(release, "folder", packFolder(python.FS, FOLDER));
    count = found;
    const names = importedNames(python);
    if (names.length > inMemory) await keepMemory(release, names);
    inMemory = names.length;
    setTimeout(keep, AGAIN_MS);
  };
  setTimeout(keep, FIRST_MS);
}

self.onmessage = ({ data }) => {
  moved = performance.now();
  flet.send(data);
};

startPython().then(
  () => self.postMessage("ready"),
  async (error) => {
    await dropParts();
    self.postMessage(String(error.message ?? error));
  },
);
