// Bind this tab to the app by a secret of its own, and say in words why it is refused.
//
// The secret came with the one-time link and lies in this tab's session storage, which
// is kept apart by port: no other server on this computer is ever sent it, as it would
// be a cookie. It goes out in one place, the address of the web client's own socket.
"use strict";

(() => {
  const NO_LINK =
    "This tab was not opened by a link of the app, or its browser forgot it.\n" +
    "Nothing was changed. Use the window that is already open, or press Enter where " +
    "the app was started and open the new link here: it works once, for 30 seconds.";
  const STALE =
    "The app was started anew, and this tab still belongs to the time before.\n" +
    "Everything marked as saved is kept. Close this tab and use the new one; a new " +
    "link comes when you press Enter where the app was started.";
  const SILENT =
    "The app does not answer: it was ended, or this computer is very busy.\n" +
    "Everything marked as saved is kept, and so is what was typed up to a moment " +
    "before.\nWait a little: this goes away by itself once the app answers. If it " +
    "stays, start the app again and use the page that it opens; half-typed words are " +
    "found there where they were typed.";
  const BLOCKED =
    "This browser may keep nothing for this address, so the tab cannot be told from " +
    "a stranger's.\nNothing was changed. Allow site data for 127.0.0.1 in the " +
    "browser's settings, then press Enter where the app was started and open the new " +
    "link; or start the app with --window.";

  // Longer than any step of the app takes; a tap before it is said may be lost.
  const PATIENCE_MS = 6000;
  const EVERY_MS = 3000;

  const board = document.getElementById("told");

  function tell(words) {
    board.querySelector("p").textContent = words;
    board.hidden = false;
  }

  function readSecret() {
    try {
      return [sessionStorage.getItem("exam-tab"), NO_LINK];
    } catch {
      return [null, BLOCKED];
    }
  }

  const [secret, lacking] = readSecret();
  if (!secret) {
    tell(lacking);
    return;
  }
  let isLeaving = false;
  window.addEventListener("pagehide", () => {
    isLeaving = true;
  });
  window.addEventListener("pageshow", () => {
    isLeaving = false;
  });

  // A socket that was refused tells a page nothing of the reason, and one to an app
  // that hangs stays open while every tap is lost: the app is asked.
  let isOpen = false;
  async function ask() {
    let answer;
    try {
      const headers = { "X-Exam-Tab": secret };
      const signal = AbortSignal.timeout(PATIENCE_MS);
      answer = await fetch("/tab", { headers, cache: "no-store", signal });
    } catch {
      if (!isLeaving) tell(SILENT);
      return;
    }
    if (answer.status === 403) tell(STALE);
    else if (!answer.ok) tell(SILENT);
    else if (isOpen) board.hidden = true;
  }

  async function keepAsking() {
    if (!document.hidden && !isLeaving) await ask();
    setTimeout(keepAsking, EVERY_MS);
  }

  // What one step of the app says comes in one message, and is heard as its packets:
  // 2, then of each packet its length in four bytes and itself.
  function packetsOf(message) {
    if (new Uint8Array(message, 0, 1)[0] !== 2) return null;
    const view = new DataView(message);
    const packets = [];
    for (let at = 1; at < message.byteLength; ) {
      const begin = at + 4;
      at = begin + view.getUint32(at, true);
      packets.push(message.slice(begin, at));
    }
    return packets;
  }

  const Socket = window.WebSocket;
  window.WebSocket = class extends Socket {
    constructor(...given) {
      super(...given);
      this.addEventListener("message", (event) => {
        const packets = packetsOf(event.data);
        if (!packets) return;
        event.stopImmediatePropagation();
        for (const data of packets) {
          this.dispatchEvent(new MessageEvent("message", { data }));
        }
      });
      this.addEventListener("open", () => {
        isOpen = true;
        board.hidden = true;
      });
      this.addEventListener("close", () => {
        isOpen = false;
        if (!isLeaving) ask();
      });
    }
  };

  // A sheet to print is shown in a tab of its own, whose viewer does as the file asks
  // and offers to print. Where the browser shows no PDF or opens no tab, it is a
  // download, as everything else that is offered.
  const click = HTMLAnchorElement.prototype.click;
  HTMLAnchorElement.prototype.click = function () {
    const { href, download } = this;
    const isSheet = download.endsWith(".pdf") && href.startsWith("blob:");
    if (!isSheet || !navigator.pdfViewerEnabled) {
      click.call(this);
      return;
    }
    // Begun at once: the address is taken back after this click.
    fetch(href).then(async (answer) => {
      const sheet = new Blob([await answer.blob()], { type: "application/pdf" });
      const address = URL.createObjectURL(sheet);
      if (window.open(address, "_blank")) return;
      const link = document.createElement("a");
      Object.assign(link, { href: address, download });
      click.call(link);
    });
  };

  flet.webSocketEndpoint = `/ws?tab=${encodeURIComponent(secret)}`;
  const start = document.createElement("script");
  start.src = "flutter_bootstrap.js";
  document.body.append(start);
  setTimeout(keepAsking, EVERY_MS);
})();
