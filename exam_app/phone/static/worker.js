// Start Python and the app's code in it; then carry messages.
//
// Flet's Python side asks for a module `flet_js`, and puts into it how it is connected
// and how it is sent to (its messaging/pyodide_connection.py says so).
import "./codes.js";
import "./pictures.js";
import "./primitives.js";
import {
  compiledCount, dropParts, keepPart, packFolder, readPart, unpackFolder,
} from "./compiled.js";
import { loadPyodide } from "./pyodide/pyodide.mjs";

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

const FOLDER = "/app";
const LIBRARY = "/lib/python314.zip";
const LIBRARY_WITH_CODE = "/tmp/python314.zip";

async function startPython() {
  const release = await releaseName().catch(() => undefined);
  const kept = readPart(release, "folder");
  const code = kept.then((folder) => folder ?? fetchCode());
  const library = await readPart(release, "library");
  const place = library && URL.createObjectURL(new Blob([library]));
  const python = await loadPyodide({
    stdout: (text) => console.log(text),
    stderr: (text) => console.error(text),
    ...(place && { stdLibURL: place }),
  });
  if (place) URL.revokeObjectURL(place);
  python.registerJsModule("flet_js", flet);
  if (await kept) {
    unpackFolder(python.FS, await code);
  } else {
    python.unpackArchive(await code, "zip", { extractDir: FOLDER });
  }
  const begun = compiledCount(python.FS, FOLDER);
  await python.runPythonAsync(`
import runpy, sys
sys.dont_write_bytecode = False
sys.path[:0] = ["${FOLDER}/__pypackages__", "${FOLDER}"]
runpy.run_module("phone_start", run_name="__main__")
`);
  await flet.start_connection(say);
  if (release) keepLater(python, release, Boolean(library), begun);
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

function keepLater(python, release, hasLibrary, begun) {
  let count = begun;
  const keep = async () => {
    await self.untilQuiet();
    if (!hasLibrary) {
      hasLibrary = true;
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
