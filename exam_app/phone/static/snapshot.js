// Keep Python's memory with the app imported, so that later starts import nothing.
//
// This worker is begun for that alone, out of the parts that were kept, and ends with it:
// nothing of an exam can be in what it keeps, and nobody waits for it.
import { keepPart, readCompiled, unpackFolder } from "./compiled.js";
import { ADD_PATHS, FOLDER, loadPython } from "./loading.js";

async function keepMemory({ release, names }) {
  const [library, folder] = await readCompiled(release);
  if (!library || !folder) return;
  const python = await loadPython(library, { _makeSnapshot: true });
  unpackFolder(python.FS, folder);
  python.runPython(`
import sys
from pathlib import Path
${ADD_PATHS}
from exam_app.memory_snapshot import compiled_packages, import_for_snapshot
packages = compiled_packages(Path("${FOLDER}/__pypackages__"))
import_for_snapshot(packages, ${JSON.stringify(names)})
`);
  await keepPart(release, "memory", python.makeMemorySnapshot());
}

self.onmessage = async ({ data }) => {
  try {
    await keepMemory(data);
    self.postMessage("");
  } catch (error) {
    self.postMessage(String(error.message ?? error));
  }
};
