// Read QR codes out of pictures, for the Python that runs in this worker.
//
// The reader is fetched at its first use, so that the app does not start later for it.
const MOST_MEMORY = 64 * 1024 * 1024;

let opening;

async function open() {
  const [answer, reader] = await Promise.all([
    fetch(new URL("./zxing_reader.wasm", import.meta.url)),
    import("./zxing_reader.js"),
  ]);
  if (!answer.ok) throw new Error(`zxing_reader.wasm: ${answer.status}`);
  const overrides = { wasmBinary: await answer.arrayBuffer() };
  const options = { overrides, fireImmediately: true };
  return { reader, memory: await reader.prepareZXingModule(options) };
}

// Formats that the reader does not know, but perhaps the browser: WebP, a phone's own.
async function painted(content, mostPixels) {
  if (!globalThis.createImageBitmap) return null;
  const picture = await createImageBitmap(new Blob([content])).catch(() => null);
  if (!picture) return null;
  const { width, height } = picture;
  if (width * height > mostPixels) return null;
  const drawing = new OffscreenCanvas(width, height).getContext("2d");
  drawing.drawImage(picture, 0, 0);
  picture.close();
  return drawing.getImageData(0, 0, width, height);
}

// Gives the codes' texts, or null where the content is no picture.
async function read(content, isKnown, mostPixels) {
  opening ??= open();
  const opened = await opening.catch((error) => {
    opening = undefined;
    throw error;
  });
  const picture = isKnown ? content : await painted(content, mostPixels);
  if (!picture) return null;
  const found = await opened.reader.readBarcodes(picture, { formats: ["QRCode"] });
  if (opened.memory.HEAPU8.length > MOST_MEMORY) {
    // Memory of WebAssembly only ever grows.
    opened.reader.purgeZXingModule();
    opening = undefined;
  }
  if (found.some((one) => one.error && !one.format)) return null;
  return found.filter((one) => one.isValid).map((one) => one.text);
}

globalThis.examCodes = Object.freeze({ read });
