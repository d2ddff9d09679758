/* A page of numbers, one below the other: Enter goes on to the next box, as on a calculator with a paper roll, and
   after the last to the button. Without this file Enter sends what is written. */
"use strict";

document.addEventListener("keydown", (event) => {
  const box = event.target;
  if (event.key !== "Enter" || event.isComposing || !box.matches?.("[data-down] input[inputmode]")) return;
  const boxes = [...box.form.querySelectorAll("input[inputmode]")].filter((other) => other.offsetParent);
  const next = boxes[boxes.indexOf(box) + 1] ?? box.form.querySelector("button.main");
  event.preventDefault();
  next?.focus();
  next?.select?.();
});
