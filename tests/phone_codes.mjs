// Read pictures with the phone's own reader, on Python 3.14 in Pyodide, under Node.
//
// usage: node phone_codes.mjs REPOSITORY PYODIDE_FOLDER PICTURES
//
// Prints one JSON object: what became of each picture, by its name.
import { readFileSync } from "node:fs";
import { fileURLToPath, pathToFileURL } from "node:url";
import { join } from "node:path";

const [repository, pyodideFolder, pictures] = process.argv.slice(2);
const addressOf = (...parts) => pathToFileURL(join(...parts)).href;

// Node's own fetch opens no files.
globalThis.fetch = async (address) => new Response(readFileSync(fileURLToPath(address)));
await import(addressOf(repository, "exam_app/phone/static/codes.js"));
const { loadPyodide } = await import(addressOf(pyodideFolder, "pyodide.mjs"));
const python = await loadPyodide();
for (const [place, root] of [["/repository", repository], ["/pictures", pictures]]) {
  python.FS.mkdirTree(place);
  python.FS.mount(python.FS.filesystems.NODEFS, { root }, place);
}
const answer = await python.runPythonAsync(`
import json, pathlib, sys
sys.path.insert(0, "/repository")
sys.dont_write_bytecode = True
from exam_app.domain.errors import ExamError
from exam_app.app.clinic import pictures

async def became(path):
    try:
        return {"codes": await pictures.read_codes(path.read_bytes())}
    except ExamError as refusal:
        return {"refused": type(refusal).__name__}

json.dumps({
    "can read": pictures.can_read_pictures(),
    "missing": pictures.what_is_missing(),
    "pictures": {
        path.name: await became(path)
        for path in sorted(pathlib.Path("/pictures").iterdir())
    },
})
`);
console.log(answer);
