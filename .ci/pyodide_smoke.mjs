// Run a script on Python 3.14 in Pyodide, under Node, without a network, with the
// primitives that a browser gets.
//
// usage: node pyodide_smoke.mjs REPOSITORY WHEELS PYODIDE_FOLDER
//        [SCRIPT [EXCHANGE [ARGUMENT...]]]
//
// The script defines `run(repository, exchange)`, awaited; it says whether all is well
// and finds the arguments in `sys.argv`. EXCHANGE "" is none.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { derivation } from "./pyodide_derivation.mjs";

const [repository, wheels, pyodideFolder, script = "pyodide_smoke.py", exchange,
  ...more] = process.argv.slice(2);
const primitives =
  pathToFileURL(join(repository, "exam_app/phone/static/primitives.js")).href;
await import(primitives);
globalThis.deriveAtOnce = derivation(primitives);
const entry = pathToFileURL(join(pyodideFolder, "pyodide.mjs")).href;
const { loadPyodide } = await import(entry);
const pyodide = await loadPyodide();
const places = [["/repository", repository], ["/wheels", wheels]];
if (exchange) places.push(["/exchange", exchange]);
for (const [place, root] of places) {
  pyodide.FS.mkdirTree(place);
  pyodide.FS.mount(pyodide.FS.filesystems.NODEFS, { root }, place);
}
try {
  pyodide.runPython(`
import pathlib, sys, zipfile
for wheel in sorted(pathlib.Path("/wheels").glob("*.whl")):
    zipfile.ZipFile(wheel).extractall("/packages")
sys.path[:0] = ["/packages", "/repository", "/repository/.ci"]
sys.dont_write_bytecode = True
`);
  pyodide.globals.set("arguments", pyodide.toPy([script, ...more]));
  pyodide.runPython("sys.argv = arguments");
  pyodide.runPython(readFileSync(join(repository, ".ci", script), "utf8"));
  const good = await pyodide.runPythonAsync(
    `await run(pathlib.Path("/repository"), pathlib.Path("/exchange"))`,
  );
  process.exit(good ? 0 : 1);
} catch (error) {
  // The error itself; not the megabyte of source that Node would print with it.
  console.error(String(error.message).slice(-3000));
  process.exit(1);
}
