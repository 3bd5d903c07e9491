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
    "Everything marked as saved is kept. If this stays, start the app again and use " +
    "the page that it opens.";
  const BLOCKED =
    "This browser may keep nothing for this address, so the tab cannot be told from " +
    "a stranger's.\nNothing was changed. Allow site data for 127.0.0.1 in the " +
    "browser's settings, then press Enter where the app was started and open the new " +
    "link; or start the app with --window.";

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

  // A socket that was refused tells a page nothing of the reason: it is asked for.
  async function askWhy() {
    let answer;
    try {
      const headers = { "X-Exam-Tab": secret };
      answer = await fetch("/tab", { headers, cache: "no-store" });
    } catch {
      if (!isLeaving) tell(SILENT);
      return;
    }
    if (answer.status === 403) tell(STALE);
    else if (!answer.ok) tell(SILENT);
  }

  const Socket = window.WebSocket;
  window.WebSocket = class extends Socket {
    constructor(...given) {
      super(...given);
      this.addEventListener("open", () => {
        board.hidden = true;
      });
      this.addEventListener("close", () => {
        if (!isLeaving) askWhy();
      });
    }
  };

  flet.webSocketEndpoint = `/ws?tab=${encodeURIComponent(secret)}`;
  const start = document.createElement("script");
  start.src = "flutter_bootstrap.js";
  document.body.append(start);
})();
