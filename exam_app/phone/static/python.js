// Run the app's Python in a worker of its own, and pass messages to and from the page.
//
// Python starts before the web client is there: both take seconds, and neither needs
// the other before the first message. The web client calls the three functions.
"use strict";

// The worker's name tells it the page's address.
const python = new Worker("/worker.js", { type: "module", name: document.URL });
let hear = () => {};
const ready = new Promise((resolve, reject) => {
  python.onmessage = ({ data }) => {
    if (data === "ready") {
      resolve();
    } else if (typeof data === "string") {
      reject(new Error(data));
    } else {
      data.forEach((packet) => hear(packet));
    }
  };
  python.onerror = (event) => reject(new Error(event.message || "it did not start"));
});

globalThis.pythonReady = ready;
globalThis.jsConnect = (_app, _given, onMessage) => {
  hear = onMessage;
  return ready;
};
globalThis.jsSend = async (_app, message) => {
  python.postMessage(message, [message.buffer]);
};
globalThis.jsDisconnect = async () => {
  python.terminate();
};
