/* The number pad: large keys that write into a box, for fingers in gloves. The box can be typed in as ever, and the
   page works without this file. Also: amounts said before go with the bottle that is chosen. */
"use strict";

(() => {
  const FRACTIONS = ["1/2", "1/4", "3/4"];

  const keysOf = (mark) => [
    "7", "8", "9", "Delete",
    "4", "5", "6", FRACTIONS[0],
    "1", "2", "3", FRACTIONS[1],
    mark, "0", "/", FRACTIONS[2],
  ];
  const SAID = { ",": "comma", ".": "point", "/": "over", "1/2": "a half", "1/4": "a quarter", "3/4": "three quarters" };

  function press(box, key) {
    const now = box.value;
    if (key === "Delete") box.value = now.replace(/( ?\d\/\d|.)$/u, "");
    else if (FRACTIONS.includes(key)) box.value = /\d$/.test(now) && !now.includes("/") ? `${now} ${key}` : key;
    else box.value = now + key;
    box.dispatchEvent(new Event("input", { bubbles: true }));
  }

  function makeKey(key) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button";
    button.textContent = key;
    button.value = key;
    if (SAID[key]) button.setAttribute("aria-label", SAID[key]);
    return button;
  }

  /* One pad for a form. Where it has several boxes, a tile for each says which one the keys write into. */
  function makePad(boxes) {
    const pad = document.createElement("div");
    pad.className = "pad";
    pad.setAttribute("role", "group");
    pad.setAttribute("aria-label", "Number keys");
    let box = boxes[0];
    if (boxes.length > 1) {
      const which = document.createElement("div");
      which.className = "which";
      const tiles = boxes.map((one) => {
        const tile = makeKey(one.labels[0].textContent.trim());
        tile.addEventListener("click", () => choose(one));
        return tile;
      });
      const choose = (one) => {
        box = one;
        boxes.forEach((other, i) => tiles[i].setAttribute("aria-pressed", other === one));
      };
      boxes.forEach((one) => one.addEventListener("focus", () => choose(one)));
      which.append(...tiles);
      pad.append(which);
      choose(box);
    }
    const keys = document.createElement("div");
    keys.className = "keys";
    keys.append(...keysOf(boxes[0].dataset.pad).map(makeKey));
    keys.addEventListener("click", (event) => {
      const key = event.target.closest("button");
      if (key) press(box, key.value);
    });
    pad.append(keys);
    return pad;
  }

  /* The amounts said before of the bottle that is chosen, and no other's. */
  function showAmounts(form) {
    const lot = form.elements.lot?.value ?? "";
    for (const amount of form.querySelectorAll("[data-of-lot]")) amount.hidden = amount.dataset.ofLot !== lot;
  }

  function dress() {
    for (const form of document.querySelectorAll("form:not([data-padded])")) {
      const boxes = [...form.querySelectorAll("input[data-pad]")];
      if (!boxes.length) continue;
      form.dataset.padded = "";
      boxes[boxes.length - 1].closest(".fields, .large").after(makePad(boxes));
      if (form.elements.lot) form.addEventListener("change", () => showAmounts(form));
      showAmounts(form);
      form.querySelector(".picked")?.addEventListener("change", ({ currentTarget }) => currentTarget.scrollIntoView());
    }
  }

  dress();
  document.addEventListener("clearbath:drawn", dress);
})();
