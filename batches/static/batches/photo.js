/* Photographs, on top of pages that work without this: arrow keys and Escape on the page of one, its neighbours fetched
   ahead; and a frame that can be dragged, or moved with the arrow keys, where a cover is cropped. */
"use strict";

for (const words of document.querySelectorAll("[data-keys]")) words.hidden = false;

/* --- one photo */
const CAME_BY = "photo-came-by"; // the link that was used, so that the next page puts the focus on the same one
const along = document.querySelector("[data-lightbox]");
if (along) lightbox(along);

function lightbox(along) {
  const link = { prev: along.querySelector("[rel=prev]"), next: along.querySelector("[rel=next]") };
  const ways = { ArrowLeft: link.prev, ArrowRight: link.next, Escape: along.querySelector("[data-back]") };

  document.addEventListener("keydown", (event) => {
    const way = ways[event.key];
    if (!way || event.defaultPrevented || event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    way.click();
  });
  for (const [name, way] of Object.entries(link)) {
    way?.addEventListener("click", () => sessionStorage.setItem(CAME_BY, name));
  }
  const cameBy = sessionStorage.getItem(CAME_BY);
  sessionStorage.removeItem(CAME_BY);
  if (cameBy) (link[cameBy] ?? document.querySelector(".caption h1")).focus({ preventScroll: true });

  const shown = document.querySelector(".shown img");
  const ahead = () => [link.next, link.prev].forEach((way) => way && fetchAhead(way.dataset, shown.sizes));
  if (shown.complete) ahead();
  else shown.addEventListener("load", ahead);
}

/* The same size of it that its own page would choose. */
function fetchAhead({ record, large, width }, sizes) {
  const image = new Image();
  image.sizes = sizes;
  image.srcset = Number(width) > 600 ? `${record} 600w, ${large} ${width}w` : `${record} ${width}w`;
}

/* --- a crop */
const STEP = { ArrowLeft: ["across", -1], ArrowRight: ["across", 1], ArrowUp: ["down", -1], ArrowDown: ["down", 1],
  "+": ["size", 1], "-": ["size", -1] };
const WIDE_TO_HIGH = 4 / 5;
const picture = document.querySelector("[data-crop]");
if (picture) cropping(picture, document.querySelector("[data-crop-form]"), document.querySelector("[data-cropped]"));

function cropping(picture, form, cropped) {
  const { width, height } = picture.viewBox.baseVal;
  const sliders = form.elements;
  const frames = picture.querySelectorAll(".frame");

  /* Where the frame lies in px of the picture: moved inside it, as the server does. */
  function frame() {
    const wide = Math.min(width, height * WIDE_TO_HIGH) * sliders.size.value / 100;
    const high = wide / WIDE_TO_HIGH;
    const within = (middle, size, all) => Math.min(Math.max(middle / 100 * all - size / 2, 0), all - size);
    return { x: within(sliders.across.value, wide, width), y: within(sliders.down.value, high, height), wide, high };
  }

  function draw() {
    const { x, y, wide, high } = frame();
    for (const each of frames) {
      for (const [name, value] of Object.entries({ x, y, width: wide, height: high })) each.setAttribute(name, value);
    }
    cropped.setAttribute("viewBox", `${x} ${y} ${wide} ${high}`);
  }

  /* Put the middle of the frame there, in px of the picture, and the sliders where the frame could follow. */
  function moveTo(x, y) {
    const { wide, high } = frame();
    const percent = (place, size, all) => Math.min(Math.max(place, size / 2), all - size / 2) / all * 100;
    sliders.across.value = percent(x, wide, width);
    sliders.down.value = percent(y, high, height);
    draw();
  }

  picture.setAttribute("tabindex", "0");
  picture.setAttribute("role", "group");
  picture.setAttribute("aria-roledescription", "frame");
  picture.addEventListener("keydown", (event) => {
    const [name, sign] = STEP[event.key] ?? [];
    if (!name || event.altKey || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    const { x, y, wide, high } = frame();
    const by = sign * (event.shiftKey ? 5 : 1);
    if (name === "size") sliders.size.value = Number(sliders.size.value) + by;
    else moveTo(x + wide / 2 + (name === "across" ? by * width / 100 : 0), y + high / 2 + (name === "down" ? by * height / 100 : 0));
    draw();
  });

  let grip = null; // how far from the frame's middle it was taken hold of
  const place = ({ clientX, clientY }) => {
    const point = new DOMPoint(clientX, clientY).matrixTransform(picture.getScreenCTM().inverse());
    return [point.x, point.y];
  };
  frames.forEach((each) => each.addEventListener("pointerdown", (event) => {
    const [x, y] = place(event);
    const now = frame();
    grip = [x - now.x - now.wide / 2, y - now.y - now.high / 2];
    each.setPointerCapture(event.pointerId);
  }));
  picture.addEventListener("pointermove", (event) => {
    if (!grip) return;
    const [x, y] = place(event);
    moveTo(x - grip[0], y - grip[1]);
  });
  for (const end of ["pointerup", "pointercancel"]) picture.addEventListener(end, () => { grip = null; });

  form.addEventListener("input", draw);
  form.querySelector("[name=look]").hidden = true; // the crop follows by itself
  draw();
}
