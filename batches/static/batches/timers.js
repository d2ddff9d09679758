/* Timers that tick. The page says "until 14:34" by itself; this counts down to it, and up once it is late, by the
   server's clock, and rings where somebody has touched "Ring here". Nothing is kept but that touch. The board hangs on
   old tablets, so this is written for browsers of 2017 and later. */
"use strict";

(() => {
  const CLOCK = "studio-clock"; // how far this device's clock is behind the studio's [ms]
  const RING = "ring-here";
  const QUIET = "rung"; // timers that somebody has heard already
  const RINGS_FOR = 120000;
  const HOUR = 3600000;

  const all = (selector, root = document) => [...root.querySelectorAll(selector)];
  const two = (number) => String(number).padStart(2, "0");
  const kept = (name, usual) => { try { return JSON.parse(localStorage.getItem(name)) || usual; } catch (shut) { return usual; } };
  const keep = (name, value) => { try { localStorage.setItem(name, JSON.stringify(value)); } catch (full) { /* then not */ } };

  /* --- the studio's clock: what the server said, when the page came fresh from it. A page that was kept on the phone
     says an old time, which makes the clock look slower than it is: so of several the fastest counts. */
  let behind = kept(CLOCK, 0);
  function setClock() {
    const page = document.querySelector("[data-timers][data-now], main[data-now]");
    if (!page) return;
    const said = page.dataset.now;
    const visit = performance.getEntriesByType ? performance.getEntriesByType("navigation")[0] : null;
    const fresh = !setClock.before && !(visit && (visit.workerStart || visit.type === "back_forward"));
    const since = fresh && visit ? performance.now() - visit.responseStart : 0;
    const found = new Date(said) - Date.now() + since;
    behind = fresh ? found : Math.max(behind, found);
    setClock.before = true;
    keep(CLOCK, behind);
  }
  const now = () => Date.now() + behind;

  /* --- what is left, and how late it is */
  function left(ms) {
    const late = ms <= 0;
    const seconds = late ? Math.floor(-ms / 1000) : Math.ceil(ms / 1000);
    const minutes = Math.floor(seconds / 60);
    const figure = minutes >= 60 ? `${Math.floor(minutes / 60)}:${two(minutes % 60)} h` : `${minutes}:${two(seconds % 60)}`;
    return late ? `+${figure}` : figure;
  }

  function show(row, ms) {
    const late = ms <= 0;
    const figure = row.querySelector(".left");
    const words = left(ms);
    if (figure.textContent !== words) figure.textContent = words;
    if (row.classList.contains("over") === late && row.dataset.shown) return;
    row.dataset.shown = "1";
    row.classList.toggle("over", late);
    for (const said of all("[data-before]", row)) said.textContent = late ? said.dataset.after : said.dataset.before;
    const choices = row.querySelector("details");
    if (late && choices) choices.open = true;
  }

  function tick() {
    clearTimeout(tick.next);
    const at = now();
    const ringing = [];
    for (const row of all(".timer[data-due]")) {
      const ms = new Date(row.dataset.due) - at;
      const before = row.dataset.shown && !row.classList.contains("over");
      show(row, ms);
      if (ms <= 0 && before) announce(row);
      if (ms <= 0 && -ms < RINGS_FOR && !rung.has(row.dataset.timer)) ringing.push(row.dataset.timer);
    }
    ring(ringing);
    if (document.querySelector(".timer[data-due]")) tick.next = setTimeout(tick, 1000 - (now() % 1000) + 5);
  }

  /* Said once, when it is due, and not each second. */
  function announce(row) {
    const box = row.closest("[data-timers]") && row.closest("[data-timers]").querySelector("[data-due-said]");
    if (box) box.textContent = [...all(".for b, .pots", row)].map((part) => part.textContent).join(", ").replace(/, $/, "");
  }

  /* --- sound: browsers let a page ring only after it was touched once */
  const rung = new Set(kept(QUIET, []));
  let wanted = kept(RING, false);
  let sound = null;
  let beeping = null;
  let loud = [];

  const canSound = () => Boolean(sound) && sound.state === "running";

  /* A promise: it may take a while until the device can be heard. */
  function wake() {
    if (!wanted) return Promise.resolve();
    const Context = window.AudioContext || window.webkitAudioContext;
    if (!sound && Context) sound = new Context();
    if (!sound || sound.state !== "suspended") return Promise.resolve();
    return sound.resume().then(say, () => {});
  }

  function beep() {
    if (navigator.vibrate) navigator.vibrate([300, 150, 300]);
    if (!canSound()) return;
    for (const start of [0, 0.35]) {
      const tone = sound.createOscillator();
      const volume = sound.createGain();
      tone.frequency.value = 880;
      const at = sound.currentTime + start;
      volume.gain.setValueAtTime(0.0001, at);
      volume.gain.exponentialRampToValueAtTime(0.4, at + 0.02);
      volume.gain.exponentialRampToValueAtTime(0.0001, at + 0.25);
      tone.connect(volume).connect(sound.destination);
      tone.start(at);
      tone.stop(at + 0.3);
    }
  }

  function ring(due) {
    loud = wanted ? due : [];
    if (loud.length && !beeping) {
      beep();
      beeping = setInterval(beep, 2000);
    } else if (!loud.length && beeping) {
      clearInterval(beeping);
      beeping = null;
    }
    say();
  }

  /* Any touch is enough: whoever touches the page has heard it. */
  function quiet() {
    wake();
    if (!loud.length) return false;
    for (const key of loud) rung.add(key);
    keep(QUIET, [...rung].slice(-40));
    ring([]);
    return true;
  }

  function say() {
    const state = !wanted ? "off" : beeping ? "rings" : canSound() ? "on" : "waits";
    for (const box of all("[data-ring]")) {
      box.hidden = false;
      if (box.dataset.state === state) continue;
      box.dataset.state = state;
      for (const part of all("[data-when]", box)) part.hidden = !part.dataset.when.split(" ").includes(state);
    }
  }

  document.addEventListener("pointerdown", quiet, true);
  document.addEventListener("keydown", quiet, true);
  document.addEventListener("click", (event) => {
    const button = event.target.closest && event.target.closest("[data-ring] button");
    if (!button) return;
    if (button.dataset.do === "on") wanted = true;
    if (button.dataset.do === "off") wanted = false;
    keep(RING, wanted);
    const awake = wake();
    if (button.dataset.do === "on") awake.then(beep); // so that it is heard how loud it is
    tick();
  });

  /* --- begun on this phone, and not sent yet: shown and ticking all the same */
  let waiting = [];
  const minutesOf = (fields) => Number(String(fields.minutes || fields.quick || fields.look || "").replace(",", "."));

  /* {name: value} of [[name, value]]. */
  function named(pairs) {
    const found = {};
    for (const [name, value] of pairs) found[name] = value;
    return found;
  }

  function drawWaiting() {
    for (const row of all("[data-of-phone]")) row.remove();
    for (const row of all(".timer[data-timer]")) {
      row.hidden = false;
      if (row.dataset.told) row.dataset.due = row.dataset.told;
    }
    for (const form of all("form.starts[hidden]")) form.hidden = false;
    for (const one of waiting) {
      const entry = Object.assign({}, one, { fields: named(one.fields) });
      const { kind, fields } = entry;
      if (kind === "timer" || (kind === "reading" && fields.look)) begin(entry);
      if (kind === "timer_end" || kind === "timer_more") over(entry);
    }
    for (const box of all("[data-timers][data-pot]")) box.hidden = !box.querySelector(".timer:not([hidden])");
    tick();
  }

  function begin({ id, kind, fields, say: words, at, path }) {
    if (document.querySelector(`.timer[data-touch="${id}"]`)) return; // the studio has it by now, and says so itself
    const began = new Date(fields.happened_at || at).getTime() + behind;
    const due = fields.until ? ahead(fields.until, began) : began + minutesOf(fields) * 60000;
    const pattern = document.querySelector("template[data-timer-row]");
    const rows = document.querySelector("[data-timer-rows]");
    if (!pattern || !rows || !Number.isFinite(due)) return;
    const row = pattern.content.cloneNode(true).firstElementChild;
    const clock = new Date(due).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false });
    row.dataset.due = new Date(due).toISOString();
    row.dataset.timer = row.dataset.touch = id;
    const name = row.querySelector(".for b");
    name.dataset.before = kind === "reading" ? "Look again" : words || name.dataset.before;
    const when = row.querySelector(".for span[data-before]");
    when.dataset.before = `until ${clock}, on this phone`;
    when.dataset.after = `late since ${clock}, on this phone`;
    if (path) row.querySelector("form").action = path;
    for (const form of all("form.starts")) form.hidden = form.hidden || form.elements.line.value === fields.line;
    for (const input of all("input", row)) {
      if (input.name === "target") input.value = id;
      if (input.name === "pots") input.value = fields.pots === "this" ? "this" : "all";
    }
    rows.append(row);
  }

  function ahead(clock, began) {
    const [, hours, minutes] = /^(\d{1,2})[:.](\d{2})$/.exec(clock) || [];
    const due = new Date(began);
    due.setHours(hours, minutes, 0, 0);
    return due < began ? due.getTime() + 24 * HOUR : due.getTime();
  }

  function over({ kind, fields, at }) {
    for (const row of all(".timer[data-timer]")) {
      if (![row.dataset.timer, row.dataset.touch].includes(fields.target)) continue;
      if (kind === "timer_end") {
        row.hidden = true;
        continue;
      }
      row.dataset.told = row.dataset.told || row.dataset.due;
      const from = Math.max(new Date(row.dataset.due), new Date(at).getTime() + behind);
      row.dataset.due = new Date(from + (minutesOf(fields) || 10) * 60000).toISOString();
    }
  }

  /* --- another phone may have begun or ended one: what is due is fetched anew now and then */
  const ANEW = 60000;
  let asked = Date.now();
  const whichOf = (part) => all(".timer[data-timer]:not([data-of-phone])", part).map((row) => row.dataset.timer + (row.dataset.told || row.dataset.due)).join();

  function askAnew() {
    const part = document.querySelector("[data-anew]");
    if (!part || document.visibilityState !== "visible" || !navigator.onLine || Date.now() - asked < ANEW / 3) return;
    asked = Date.now();
    fetch(part.dataset.anew, { headers: { Accept: "application/json" } }).then((answer) => (answer.ok ? answer.text() : null)).then((html) => {
      if (html === null || !part.isConnected) return;
      const page = new DOMParser().parseFromString(html, "text/html");
      const found = page.querySelector("[data-timers]");
      if ((found ? whichOf(found) : "") === whichOf(part)) return;
      if (found) part.replaceWith(document.importNode(found, true));
      else part.remove();
      const [rings, newer] = [document.querySelector(".rings"), page.querySelector(".rings")];
      if (rings && newer) rings.replaceWith(document.importNode(newer, true));
      drawWaiting();
    }).catch(() => { /* no network: what stands here goes on ticking */ });
  }
  setInterval(askAnew, ANEW);
  document.addEventListener("visibilitychange", askAnew);

  document.addEventListener("clearbath:waiting", (event) => { waiting = event.detail || []; drawWaiting(); });
  document.addEventListener("clearbath:drawn", () => { setClock(); drawWaiting(); });
  document.addEventListener("visibilitychange", tick);
  window.addEventListener("pageshow", tick);
  setClock();
  tick();
  if (!document.querySelector(".timer[data-due]")) say();
})();
