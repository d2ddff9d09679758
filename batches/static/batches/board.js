/* The board fetches itself anew, says when it has lost the studio, shows the time and keeps the screen awake where the
   browser lets it. Written for old tablets: timers.js ticks, this does the rest. */
"use strict";

(function () {
  var board = document.querySelector("[data-board]");
  var stale = document.querySelector("[data-stale]");
  var every = Number(board.dataset.every) * 1000;
  var last = Date.now();
  var fresh = board.firstElementChild.dataset.fresh;
  var LATE = 3; // refreshes in a row that may fail before it says so

  function lost(why) {
    if (why !== "out" && Date.now() - last < LATE * every) return;
    stale.hidden = false;
    stale.querySelector("[data-since]").textContent = fresh;
    Array.prototype.forEach.call(stale.querySelectorAll("[data-why]"), function (part) {
      part.hidden = part.dataset.why !== why;
    });
  }

  function put(html) {
    var page = new DOMParser().parseFromString(html, "text/html").body.firstElementChild;
    if (!page || page.dataset.fresh === undefined) return lost("out"); // the sign-in page, or none of ours
    board.replaceChild(document.importNode(page, true), board.firstElementChild);
    last = Date.now();
    fresh = page.dataset.fresh;
    stale.hidden = true;
    document.querySelector("[data-fresh-at]").textContent = fresh;
    document.dispatchEvent(new Event("clearbath:drawn"));
  }

  function fetchAnew() {
    var asked = new XMLHttpRequest();
    asked.open("GET", "?part");
    asked.timeout = 10000;
    asked.onload = function () {
      if (asked.status === 200) put(asked.responseText);
      else lost("gone");
    };
    asked.onerror = asked.ontimeout = function () { lost("gone"); };
    asked.send();
  }

  /* The studio's time of day, which is not always the tablet's: "2026-10-12T14:31:05+02:00", and what passed since. */
  function clock() {
    var said = board.firstElementChild.dataset.now;
    var minutes = Number(said.slice(11, 13)) * 60 + Number(said.slice(14, 16)) + Number(said.slice(17, 19)) / 60;
    minutes = Math.floor(minutes + (Date.now() - last) / 60000) % 1440;
    var rest = minutes % 60;
    document.querySelector("[data-clock]").textContent = Math.floor(minutes / 60) + ":" + (rest < 10 ? "0" : "") + rest;
  }

  /* --- the screen stays on; over plain http, and on old tablets, no page can ask for that */
  var lock = null;
  function awake() {
    if (document.visibilityState !== "visible" || lock) return;
    if (!navigator.wakeLock) {
      document.querySelector("[data-awake]").hidden = false;
      return;
    }
    navigator.wakeLock.request("screen").then(function (held) {
      lock = held;
      document.querySelector("[data-awake]").hidden = true;
      held.addEventListener("release", function () { lock = null; });
    }, function () { document.querySelector("[data-awake]").hidden = false; });
  }

  document.addEventListener("visibilitychange", function () {
    awake();
    if (document.visibilityState === "visible") fetchAnew();
  });
  document.addEventListener("click", awake);
  window.addEventListener("online", fetchAnew);
  setInterval(fetchAnew, every);
  setInterval(clock, 1000);
  clock();
  awake();
})();
