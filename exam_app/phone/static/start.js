// Keep the whole app on this device first, then start it from there.
//
// The first time, the service worker fetches and checks every file while this page
// shows how far it is; only a whole app is started. Later the app starts from what is
// kept, without a network, and a newer release is fetched beside it.
"use strict";

// Read by the web client's own scripts.
var flet = {
  pyodide: true,
  multiView: false,
  noCdn: true,
  webSocketEndpoint: "/ws",
  entrypointBaseUrl: "/",
  assetBase: "/",
  routeUrlStrategy: "hash",
  canvasKitBaseUrl: "/canvaskit/",
  webRenderer: "canvaskit",
  fontFallbackBaseUrl: "assets/fonts/",
};
flet.flutterAppLoaded = new Promise((resolve) => {
  flet.flutterAppResolve = resolve;
});

// How browsers call it when site data is blocked for an address.
const REFUSALS = new Set(["SecurityError", "NotAllowedError", "NotSupportedError"]);

function tell(text) {
  document.getElementById("told").textContent = text;
}

function offerAgain() {
  const again = document.getElementById("again");
  again.hidden = false;
  again.onclick = () => location.reload();
}

function addScript(address) {
  return new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = address;
    script.onload = resolve;
    script.onerror = () => reject(new Error(address));
    document.head.append(script);
  });
}

function followProgress() {
  const channel = new BroadcastChannel("exam-release");
  channel.onmessage = ({ data }) => {
    if (document.getElementById("told")) {
      tell(`Keeping the app on this device: ${data.done} of ${data.all} files.`);
    }
  };
}

// Resolves once a whole, checked app is kept and answers for this page.
async function keepApp() {
  const workers = navigator.serviceWorker;
  const registration = await workers.register("/keeper.js", {
    scope: "/",
    updateViaCache: "none",
  });
  if (workers.controller) {
    registration.update().catch(() => {});
    return;
  }
  await new Promise((resolve, reject) => {
    workers.addEventListener("controllerchange", resolve, { once: true });
    const coming = registration.installing;
    if (coming) {
      coming.addEventListener("statechange", () => {
        if (coming.state === "redundant") {
          reject(new Error("a file was missing or not the one that belongs here"));
        }
      });
    }
    // A page that was loaded past the worker asks the one there to answer for it.
    registration.active?.postMessage("claim");
  });
}

// The module draws by the graphics processor only.
async function chooseRenderer() {
  const { drawsBy } = await (await fetch("/release")).json();
  const canvas = document.createElement("canvas");
  const isDrawn = canvas.getContext("webgl2") ?? canvas.getContext("webgl");
  flet.webRenderer = isDrawn ? (drawsBy ?? "canvaskit") : "canvaskit";
}

async function startApp() {
  tell("Starting…");
  await Promise.all([
    addScript("/python.js"),
    chooseRenderer().then(() => addScript("/flutter_bootstrap.js")),
  ]);
  await pythonReady;
  document.getElementById("loading").remove();
}

async function main() {
  followProgress();
  try {
    await keepApp();
  } catch (error) {
    if (REFUSALS.has(error.name)) {
      tell(
        "This browser may keep nothing under this address, so no exam could be kept. " +
          "Nothing was changed. Allow site data and cookies for this address in the " +
          "browser's settings, leave private windows, then try again.",
      );
      offerAgain();
      return;
    }
    tell(
      `The app was not fetched whole (${error.message}). Nothing of it is used, and ` +
        "exams on this device are untouched. Check the network, then try again.",
    );
    offerAgain();
    return;
  }
  // Asks the browser not to clear the exams when room is short; it may say no.
  navigator.storage.persist?.().catch(() => {});
  try {
    await startApp();
  } catch (error) {
    console.error(error);
    tell(
      "The app did not start. Exams on this device are untouched. Close every other " +
        "window of it and try again; if that does not help, restart the browser.",
    );
    offerAgain();
  }
}

main();
