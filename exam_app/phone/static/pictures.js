// Draw photographs anew with the browser's own parts, for the Python in this worker.
//
// The browser turns a picture upright by its tag, works its colours out for the screen,
// and writes a new file, in which nothing of the old one is but what was drawn. Python
// looked at the size before, and walks what comes out.

// Gives the bytes of a JPEG, or null where the browser opens no picture in the content.
async function drawnAnew(content, longEdge, qualities, wantedBytes) {
  const file = new Blob([content]);
  // Browsers without the word turn it upright by themselves, and refuse the word.
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" })
    .catch(() => createImageBitmap(file))
    .catch(() => null);
  if (!picture) return null;
  const share = Math.min(1, longEdge / Math.max(picture.width, picture.height));
  const [width, height] = [picture.width, picture.height].map((edge) =>
    Math.max(1, Math.round(edge * share)),
  );
  const canvas = new OffscreenCanvas(width, height);
  const drawing = canvas.getContext("2d", { alpha: false });
  drawing.fillStyle = "white";
  drawing.fillRect(0, 0, width, height);
  drawing.imageSmoothingQuality = "high";
  drawing.drawImage(picture, 0, 0, width, height);
  picture.close();
  let drawn;
  for (const quality of qualities) {
    drawn = await canvas.convertToBlob({ type: "image/jpeg", quality: quality / 100 });
    if (drawn.size <= wantedBytes) break;
  }
  return new Uint8Array(await drawn.arrayBuffer());
}

globalThis.examPictures = Object.freeze({ drawnAnew });
