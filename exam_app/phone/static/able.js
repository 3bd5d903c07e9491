// Say what this browser lacks for keeping exams, before anything newer is run.
//
// Written for browsers of any age. The versions are those in which the last missing
// part came: synchronous files of the private storage (File System Standard) and
// WebAssembly's exceptions, by the browsers' own compatibility tables, from memory.
(function () {
  "use strict";
  var instead =
    " Nothing was changed and nothing is kept here. Write on paper, or use a computer " +
    "with the app, and tell your clinic.";

  function lacks() {
    if (!window.isSecureContext) {
      return (
        "This address is not safe enough to keep exams under: it must begin with " +
        "https. Ask whoever gave it to you."
      );
    }
    if (!("serviceWorker" in navigator) || !("caches" in window)) {
      return (
        "This window keeps nothing: it may be a private one, or opened from inside " +
        "another app. Open the address in a normal window of Chrome, Edge, Firefox " +
        "or Safari."
      );
    }
    var isOld =
      !("WebAssembly" in window && "Exception" in WebAssembly) ||
      !("storage" in navigator && "getDirectory" in navigator.storage) ||
      !("BroadcastChannel" in window && "hasOwn" in Object);
    return isOld
      ? "This browser is too old to keep exams. Bring it up to date (Chrome or Edge " +
          "108, Firefox 111, Safari 16.4 or newer), or use another device."
      : "";
  }

  var lacking = lacks();
  if (lacking) {
    document.getElementById("told").textContent = lacking + instead;
    return;
  }
  var start = document.createElement("script");
  start.src = "start.js";
  document.head.appendChild(start);
})();
