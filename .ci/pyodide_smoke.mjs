// Run pyodide_smoke.py on Python 3.14 in Pyodide, under Node, without a network.
//
// usage: node pyodide_smoke.mjs REPOSITORY WHEELS PYODIDE_FOLDER
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const [repository, wheels, pyodideFolder] = process.argv.slice(2);
const entry = pathToFileURL(join(pyodideFolder, "pyodide.mjs")).href;
const { loadPyodide } = await import(entry);
const pyodide = await loadPyodide();
for (const [place, root] of [["/repository", repository], ["/wheels", wheels]]) {
  pyodide.FS.mkdirTree(place);
  pyodide.FS.mount(pyodide.FS.filesystems.NODEFS, { root }, place);
}
try {
  pyodide.runPython(`
import pathlib, sys, zipfile
for wheel in sorted(pathlib.Path("/wheels").glob("*.whl")):
    zipfile.ZipFile(wheel).extractall("/packages")
sys.path[:0] = ["/packages", "/repository"]
`);
  pyodide.runPython(readFileSync(join(repository, ".ci/pyodide_smoke.py"), "utf8"));
  const good = pyodide.runPython(`run(pathlib.Path("/repository"))`);
  process.exit(good ? 0 : 1);
} catch (error) {
  // The error itself; not the megabyte of source that Node would print with it.
  console.error(String(error.message).slice(-3000));
  process.exit(1);
}
