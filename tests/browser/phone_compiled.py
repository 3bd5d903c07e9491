"""Whether a phone has kept what Python compiled there, asked in its page."""

# The kept parts that are whole, by the last word of their place.
WHOLE = """async () => {
  const cache = await caches.open("exam-compiled");
  const whole = [];
  for (const request of await cache.keys()) {
    const kept = await cache.match(request);
    const hash = await crypto.subtle.digest("SHA-256", await kept.arrayBuffer());
    const digits = [...new Uint8Array(hash)].map(
      (one) => one.toString(16).padStart(2, "0")).join("");
    const part = request.url.split("/").pop();
    if (kept.headers.get("X-SHA-256") === digits) whole.push(part);
  }
  return whole.sort().join();
}"""
UNTIL_BOTH_ARE_WHOLE = f"""async () => {{
  for (let tries = 0; await ({WHOLE})() !== "folder,library"; tries += 1) {{
    if (tries === 360) throw new Error("not kept within three minutes");
    await new Promise((go_on) => setTimeout(go_on, 500));
  }}
}}"""
