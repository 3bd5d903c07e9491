// Start Python and the app's code in it; then carry messages.
//
// Flet's Python side asks for a module `flet_js`, and puts into it how it is connected
// and how it is sent to (its messaging/pyodide_connection.py says so).
import "./codes.js";
import "./pictures.js";
import "./primitives.js";
import { loadPyodide } from "./pyodide/pyodide.mjs";

const flet = { documentUrl: self.name };

// What one step of the app says goes out together, so that the page draws it at once.
const waiting = [];
function say(message) {
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

async function startPython() {
  const code = fetchCode();
  const python = await loadPyodide({
    stdout: (text) => console.log(text),
    stderr: (text) => console.error(text),
  });
  python.registerJsModule("flet_js", flet);
  python.unpackArchive(await code, "zip");
  await python.runPythonAsync(`
import runpy, sys
sys.path.insert(0, "__pypackages__")
runpy.run_module("phone_start", run_name="__main__")
`);
  await flet.start_connection(say);
}

self.onmessage = ({ data }) => flet.send(data);

startPython().then(
  () => self.postMessage("ready"),
  (error) => self.postMessage(String(error.message ?? error)),
);
