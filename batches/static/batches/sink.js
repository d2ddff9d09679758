/* The sink: keeps the screen awake, says what is logged, and what can be said again. */
"use strict";

/* --- the screen stays on; browsers grant this only over https or on this machine, and take it back when hidden */
let lock = null;

async function keepAwake() {
  if (!("wakeLock" in navigator) || document.visibilityState !== "visible" || lock) return;
  try {
    lock = await navigator.wakeLock.request("screen");
    lock.addEventListener("release", () => { lock = null; });
  } catch {
    lock = null; // refused, often for a low battery: the next touch asks again
  }
}
document.addEventListener("visibilitychange", keepAwake);
document.addEventListener("click", keepAwake);
keepAwake();

/* --- one touch that a wet screen reports as two may land on the next page, on another button */
const BOUNCE_MS = 500;
const BOUNCE_PX = 40;
const LAST_TAP = "last-tap";

function isBounce(event) {
  const [at, x, y] = JSON.parse(sessionStorage.getItem(LAST_TAP) ?? "[0, 0, 0]");
  return Date.now() - at < BOUNCE_MS && Math.hypot(event.clientX - x, event.clientY - y) < BOUNCE_PX;
}

document.addEventListener("click", (event) => {
  if (event.detail === 0 || !event.target.closest?.("[data-once]")) return; // 0: a keyboard, which does not bounce
  if (isBounce(event)) {
    event.preventDefault();
    event.stopImmediatePropagation();
  } else {
    sessionStorage.setItem(LAST_TAP, JSON.stringify([Date.now(), event.clientX, event.clientY]));
  }
}, true);

/* --- a photo that is all there is to say sends itself */
function dressPhotos() {
  for (const hint of document.querySelectorAll("[data-sends]")) hint.textContent = hint.dataset.sends;
}
document.addEventListener("change", (event) => {
  if (event.target.matches?.("[data-send]") && event.target.files.length) event.target.form.requestSubmit();
});
document.addEventListener("clearbath:drawn", dressPhotos);
dressPhotos();

/* --- how a line that waits to be sent says itself: "5 mL Plum, Jar 4" */
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.potName === undefined || event.submitter?.dataset.say) return;
  form.dataset.what ??= form.dataset.say;
  const chosen = (name) => form.querySelector(`[name="${name}"]:checked`)?.closest("label");
  const amount = form.elements.amount?.value.trim();
  const much = event.submitter?.name === "quick" ? event.submitter.textContent
    : amount ? `${amount} ${chosen("amount_unit")?.textContent ?? ""}`.trim() : "";
  const lot = chosen("lot")?.querySelector("span")?.textContent.trim() || form.elements.what?.value.trim()
    || chosen("step")?.textContent.trim();
  const all = form.querySelector("[name=pots][value=all]:checked") && chosen("pots")?.textContent.trim();
  const said = [much, lot || form.dataset.what].filter(Boolean).join(" ");
  form.dataset.say = `${said}, ${all || form.dataset.potName}`;
}, true);

/* "61 °C, pH 4.5, nearly clear", as its line in the log will say it */
document.addEventListener("submit", (event) => {
  const form = event.target;
  const { kind, temperature, temperature_unit: unit, ph } = form.elements;
  if (kind?.value !== "reading" || !temperature || event.submitter?.dataset.say) return;
  form.dataset.what ??= form.dataset.say;
  const bath = form.querySelector("[name=clear]:checked")?.closest("label").textContent.trim().toLowerCase();
  const said = [
    temperature.value.trim() && `${temperature.value.trim()} ${unit?.selectedOptions[0].textContent ?? ""}`.trim(),
    ph?.value.trim() && `pH ${ph.value.trim()}`,
    bath && `the bath ${bath}`,
  ].filter(Boolean).join(", ");
  form.dataset.say = said || form.dataset.what;
}, true);

/* --- the same again of what waits on this phone: the studio, which would offer it, is not there */
const SAID_AGAIN = ["bottle", "powder", "other", "water", "reading", "step", "usual", "again"];

document.addEventListener("clearbath:waiting", ({ detail }) => {
  document.querySelector(".same[data-here]")?.remove();
  const mould = document.querySelector("template[data-again]");
  if (!mould) return;
  const { again: path, potName } = mould.dataset;
  const said = new Set(detail.flatMap(({ fields }) => fields.filter(([name]) => name === "source").map(([, id]) => id)));
  const alone = detail.filter((one) => one.path === path && SAID_AGAIN.includes(one.kind) && !said.has(one.id)
    && !one.fields.some(([name, value]) => name === "pots" && value === "all"));
  if (!alone.length) return;
  const here = mould.content.firstElementChild.cloneNode(true);
  const form = here.querySelector("form");
  for (const { id } of alone) form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "source", value: id }));
  const words = alone.map(({ say }) => say.replace(`, ${potName}`, "")).join("; ");
  here.dataset.here = "";
  here.querySelector("[data-words]").textContent = words;
  form.dataset.say = `${words}, ${form.querySelector("b").textContent}`;
  mould.before(here);
});

/* --- painted skeins that wait on this phone are done for whoever stands there: the count goes on */
document.addEventListener("clearbath:waiting", ({ detail }) => {
  const next = document.querySelector("[data-skein]");
  if (!next) return;
  const form = next.querySelector("form");
  const here = new URL(form.action).pathname;
  const more = detail.filter((one) => one.kind === "skein" && one.path === here).length;
  const number = Number(next.dataset.skein) + more;
  const done = next.dataset.left !== "" && more >= Number(next.dataset.left);
  for (const said of next.querySelectorAll("[data-number]")) said.textContent = number;
  for (const part of next.querySelectorAll(".step, form")) part.hidden = done;
  next.querySelector("[data-all-done]")?.toggleAttribute("hidden", !done);
  form.dataset.say = `Skein ${number} done`;
});
