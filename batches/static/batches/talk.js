/* A spoken note: one touch begins it, one ends it, and then it is kept as any other thing said at the sink. Where the
   browser has no recorder, which is so over plain http, a recording is chosen as a file. */
"use strict";

(() => {
  const KINDS = ["audio/webm;codecs=opus", "audio/mp4", "audio/ogg;codecs=opus"];
  const ENDS = { "audio/webm": "webm", "audio/mp4": "m4a", "audio/ogg": "ogg" };
  const BITS = 32_000; // a voice is understood, and a minute is a quarter of a megabyte

  const say = (words) => document.dispatchEvent(new CustomEvent("clearbath:say", { detail: words }));

  function dress() {
    if (!window.MediaRecorder || !navigator.mediaDevices?.getUserMedia) return;
    for (const input of document.querySelectorAll("input[data-record]:not([data-ready])")) {
      input.dataset.ready = "";
      const button = document.createElement("button");
      button.type = "button";
      button.className = "button main full";
      button.dataset.once = ""; // a touch that a wet screen reports as two must not end it at once
      button.textContent = "Speak now";
      button.addEventListener("click", () => (button.ending ? button.ending() : begin(button, input)));
      const box = document.createElement("div");
      box.className = "wet";
      box.append(button);
      input.form.prepend(box);
      // The form's own button, touched while it listens, ends it and keeps it too.
      input.form.addEventListener("submit", (event) => {
        if (!button.ending) return;
        event.preventDefault();
        event.stopPropagation();
        button.ending();
      });
    }
  }

  async function begin(button, input) {
    button.ending = () => {}; // a second touch while the browser asks for leave
    let sound = null;
    try {
      sound = await navigator.mediaDevices.getUserMedia({ audio: true });
    } catch {
      button.ending = null;
      say("The browser did not let this page listen. Allow the microphone for this studio, or choose a recording below.");
      return;
    }
    const kind = KINDS.find((one) => MediaRecorder.isTypeSupported(one));
    const recorder = new MediaRecorder(sound, { mimeType: kind, audioBitsPerSecond: BITS });
    const parts = [], began = Date.now();
    const most = Number(input.dataset.most) || 300;
    const tick = () => {
      const seconds = Math.round((Date.now() - began) / 1000);
      button.textContent = `Listening ${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}: touch to keep it`;
      if (seconds >= most) recorder.stop();
    };
    const timer = setInterval(tick, 1000);
    const elsewhere = new AbortController();
    tick();
    recorder.ondataavailable = ({ data }) => { if (data.size) parts.push(data); };
    recorder.onstop = () => {
      clearInterval(timer);
      elsewhere.abort();
      sound.getTracks().forEach((track) => track.stop());
      button.ending = null;
      button.textContent = "Speak now";
      if (parts.length) hand(input, parts, recorder.mimeType, began);
    };
    // Going elsewhere ends it, and what was said until then is kept where that is still possible.
    document.addEventListener("visibilitychange", () => { if (document.hidden) button.ending?.(); }, { signal: elsewhere.signal });
    button.ending = () => recorder.state === "recording" && recorder.stop();
    recorder.start(1000);
  }

  function hand(input, parts, type, began) {
    const plain = type.split(";")[0];
    const held = new DataTransfer();
    held.items.add(new File(parts, `note.${ENDS[plain] ?? "webm"}`, { type: plain, lastModified: began }));
    input.files = held.files;
    input.form.requestSubmit();
  }

  dress();
  document.addEventListener("clearbath:drawn", dress);
})();
