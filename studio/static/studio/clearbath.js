/* Clearbath: small helps for every page. Each page works without this file; nothing here stores or sends anything. */
"use strict";

const SECOND_TAP_MS = 500; // a wet screen often reports one touch twice
const LONG_LIST = 12;

/* The summary of what is wrong takes the focus, so that it is read first. */
function focusErrors(root) {
  const summary = root.matches?.(".errors") ? root : root.querySelector(".errors[tabindex]");
  summary?.focus();
}

/* What just happened stands in the page from the start, which nobody is told of: put in once more, it is read out. */
function sayAgain(root) {
  for (const said of root.querySelectorAll(".messages[role=status]")) {
    if (!said.childElementCount || said.querySelector("[autofocus]")) continue;
    const words = [...said.childNodes];
    said.replaceChildren();
    setTimeout(() => said.replaceChildren(...words), 100);
  }
}

/* A link to a line that opens shows what is behind it. */
function openLinked() {
  document.getElementById(location.hash.slice(1))?.querySelector(":scope > details")?.setAttribute("open", "");
}
addEventListener("hashchange", openLinked);

/* data-once: a second tap on the same button within half a second does nothing. */
const lastTap = new WeakMap();
document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-once]");
  if (!button) return;
  const before = lastTap.get(button);
  if (before !== undefined && event.timeStamp - before < SECOND_TAP_MS) {
    event.preventDefault();
    event.stopImmediatePropagation();
    return;
  }
  lastTap.set(button, event.timeStamp);
}, true);

/* Buttons that change the form in front of you; one listener, so that rows added later have it too. */
document.addEventListener("click", (event) => {
  const step = event.target.closest?.("[data-step]");
  if (step) return stepBy(step);
  const more = event.target.closest?.("[data-more]");
  if (more && addRow(more)) event.preventDefault();
});

function makeButton(words, label, step) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "button";
  button.textContent = words;
  button.setAttribute("aria-label", label);
  button.dataset.step = step;
  return button;
}

/* data-stepper: a text box for a count gets a button on each side. */
function addSteppers(root) {
  for (const box of root.querySelectorAll("[data-stepper]:not([data-ready])")) {
    const { fewer, more } = box.dataset;
    box.dataset.ready = "";
    box.prepend(makeButton("\u2212", fewer, -1));
    box.append(makeButton("+", more, 1));
  }
}

function stepBy(button) {
  const input = button.parentElement.querySelector("input");
  const now = input.value.trim() === "" ? 0 : Number(input.value);
  if (!Number.isInteger(now)) return; // what was typed is left for the person to put right
  const least = Number(input.dataset.least ?? 0);
  const most = Number(input.dataset.most ?? Infinity);
  input.value = Math.min(Math.max(now + Number(button.dataset.step), least), most);
  input.dispatchEvent(new Event("input", { bubbles: true }));
  input.dispatchEvent(new Event("change", { bubbles: true }));
}

/* data-more="fibres": one more row of a form, as the server would have drawn it. */
function addRow(button) {
  const prefix = button.dataset.more;
  const form = button.form;
  const total = form?.elements[`${prefix}-TOTAL_FORMS`];
  const rows = form?.querySelectorAll(`[data-rows="${CSS.escape(prefix)}"] > .row`);
  if (!total || !rows.length || Number(total.value) >= Number(button.dataset.most ?? Infinity)) return false;
  const last = rows[rows.length - 1];
  const row = last.cloneNode(true);
  emptyRow(row, `${prefix}-${Number(total.value) - 1}-`, `${prefix}-${total.value}-`);
  total.value = Number(total.value) + 1;
  last.after(row);
  row.querySelector("input:not([type=hidden]), select, textarea")?.focus();
  return true;
}

function emptyRow(row, from, to) {
  for (const old of row.querySelectorAll(".problem, [data-of-row]")) old.remove();
  for (const wrong of row.querySelectorAll(".wrong")) wrong.classList.remove("wrong");
  for (const element of [row, ...row.querySelectorAll("*")]) {
    for (const name of ["id", "name", "for", "aria-describedby", "aria-labelledby", "data-colour-of"]) {
      const value = element.getAttribute(name);
      if (value) element.setAttribute(name, value.replaceAll(from, to));
    }
    element.removeAttribute("aria-invalid");
    if (element.matches("input[type=checkbox], input[type=radio]")) element.checked = false;
    else if (element.matches("select")) element.selectedIndex = 0;
    else if (element.matches("input, textarea")) element.value = "";
    if (element.dataset.count) element.textContent = Number(element.textContent) + 1;
  }
}

/* data-colour-of="id": the browser's own colour chooser writes into the text box beside it, and follows it. */
function addColourChoosers(root) {
  for (const chooser of root.querySelectorAll("input[data-colour-of]")) {
    const text = document.getElementById(chooser.dataset.colourOf);
    if (!text) continue;
    chooser.hidden = false;
    follow(chooser, text);
  }
}

function follow(chooser, text) {
  if (/^#?[0-9a-f]{6}$/i.test(text.value)) chooser.value = `#${text.value.replace("#", "")}`;
}

document.addEventListener("input", (event) => {
  const { id, dataset } = event.target;
  if (dataset.colourOf) document.getElementById(dataset.colourOf).value = event.target.value;
  const chooser = id && document.querySelector(`input[data-colour-of="${CSS.escape(id)}"]`);
  if (chooser) follow(chooser, event.target);
});

/* A long list of choices gets a box that leaves only the rows with these letters; what is chosen always stays. */
function addFilters(root) {
  for (const list of root.querySelectorAll("[data-choices]:not([data-ready])")) {
    const rows = [...list.querySelectorAll(".choice")];
    list.dataset.ready = "";
    if (rows.length <= LONG_LIST) continue;
    const box = document.createElement("input");
    box.type = "search";
    box.autocomplete = "off";
    box.addEventListener("input", () => {
      const wanted = box.value.trim().toLowerCase();
      for (const row of rows) {
        row.hidden = !row.textContent.toLowerCase().includes(wanted) && !row.querySelector(":checked");
      }
    });
    const label = document.createElement("label");
    label.className = "hint";
    label.append("Show only what has these letters", box);
    box.addEventListener("keydown", (event) => {
      if (event.key === "Enter") event.preventDefault(); // it would send the whole form
    });
    list.prepend(label);
  }
}

/* data-browser-zone: the time zone this browser goes by is offered; it fills a list in which nothing is chosen yet. */
function offerZone(root) {
  const list = root.querySelector("select[data-browser-zone]");
  const offer = root.querySelector("[data-zone-offer]");
  const zone = Intl.DateTimeFormat().resolvedOptions().timeZone;
  if (!list || !offer || ![...list.options].some((option) => option.value === zone)) return;
  const button = offer.querySelector("button");
  const settle = () => { offer.hidden = list.value === zone; };
  if (!list.value && zone !== "UTC") {
    list.value = zone;
    offer.insertAdjacentHTML("beforebegin", '<p class="hint">Taken from this device: look whether it is right.</p>');
  }
  button.textContent = `Take ${zone.split("/").pop().replaceAll("_", " ")}, as on this device`;
  button.addEventListener("click", () => { list.value = zone; settle(); list.focus(); });
  list.addEventListener("change", settle);
  settle();
}

/* data-tally: what went in against what is said to have come out, as the numbers change. */
function tally(group) {
  const { tally: yarn, wentIn, out } = group.dataset;
  if (wentIn === undefined) return;
  const counts = [...group.querySelectorAll(".stepper > input")];
  for (const list of group.parentElement.querySelectorAll(".row select[name$='-yarn']")) {
    if (list.value === yarn) counts.push(list.closest(".row").querySelector(".stepper > input"));
  }
  const told = counts.reduce((sum, box) => sum + (Number(box.value.trim()) || 0), Number(out));
  const off = told - Number(wentIn);
  const said = group.querySelector(".tally");
  const words = off ? `${wentIn} went in, ${told} told: ${Math.abs(off)} ${off < 0 ? "missing" : "too many"}. Say below why.`
    : `All ${wentIn} told.`;
  if (said.textContent !== words) said.textContent = words;
  said.classList.toggle("red", off !== 0);
}

document.addEventListener("change", (event) => {
  for (const group of event.target.closest?.("[data-tallies]")?.querySelectorAll("[data-tally]") ?? []) tally(group);
});

/* data-plain-http: what a browser keeps from a page over plain http is said only where it does; only the browser knows,
   since it takes this computer itself for safe. */
function tellOfPlainHttp(root) {
  for (const line of root.querySelectorAll("[data-plain-http]")) line.hidden = window.isSecureContext;
}

function dress(root) {
  tellOfPlainHttp(root);
  addSteppers(root);
  offerZone(root);
  addColourChoosers(root);
  addFilters(root);
}

dress(document);
focusErrors(document);
sayAgain(document);
openLinked();
document.addEventListener("clearbath:drawn", () => {
  dress(document);
  focusErrors(document.querySelector("main"));
});
document.addEventListener("htmx:load", (event) => {
  dress(event.detail.elt);
  focusErrors(event.detail.elt);
});
document.addEventListener("clearbath:drawn", () => tellOfPlainHttp(document)); // the sink draws its page anew in place
