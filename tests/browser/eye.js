// What somebody who looks at the page as it stands would complain of: a list of sentences.
() => {
  const faults = [];
  const shown = element => element.checkVisibility({visibilityProperty: true});
  const page = document.scrollingElement;
  const called = element => (element.innerText || element.ariaLabel || element.name || element.id).trim().slice(0, 40);

  if (page.scrollWidth > page.clientWidth) {
    const out = [...document.querySelectorAll("main *")].filter(each => shown(each)
      && each.getBoundingClientRect().right > page.clientWidth + 1).pop();
    faults.push(`scrolls sideways, ${page.scrollWidth} px, by ${out ? out.outerHTML.slice(0, 90) : "the frame"}`);
  }

  // Targets: everything that can be touched, with the place that answers to a touch.
  const inText = link => getComputedStyle(link).display === "inline"
    && link.parentElement.innerText.trim().length > link.innerText.trim().length;
  const targets = [];
  for (const element of document.querySelectorAll("a[href], button, input, select, textarea, summary")) {
    if (!shown(element) || element.closest(".hidden, .skip") || element.type === "hidden") continue;
    if (element.tagName === "A" && inText(element)) continue;
    // A print or a bottle is one target: its link is laid over all of it.
    const over = getComputedStyle(element, "::after");
    const target = over.position === "absolute" && over.content !== "none"
      ? element.offsetParent : element.closest("label") || element;
    targets.push([target, target.getBoundingClientRect()]);
  }
  for (const [target, box] of targets) {
    if (box.height < 43.9) faults.push(`${Math.round(box.height)} px high: ${called(target)}`);
    if (box.width < 43.9) faults.push(`${Math.round(box.width)} px wide: ${called(target)}`);
    // Batches side by side scroll in a region of their own, which the keyboard reaches.
    const scrolls = target.closest("[role=region][tabindex='0']");
    if (!scrolls && (box.right > page.clientWidth + 1 || box.left < -1)) faults.push(`off the page: ${called(target)}`);
  }
  const near = (a, b, gap) => a.left < b.right + gap && b.left < a.right + gap
    && a.top < b.bottom + gap && b.top < a.bottom + gap;
  // A bar that stays in sight lies on whatever is scrolled below it; what has the focus is kept above it.
  const stays = element => element && (getComputedStyle(element).position === "sticky" || stays(element.parentElement));
  const below = targets.filter(([target]) => !stays(target));
  below.forEach(([one, a], place) => below.slice(place + 1).forEach(([other, b]) => {
    if (one.contains(other) || other.contains(one) || !near(a, b, -1)) return;
    faults.push(`${called(one)} lies on ${called(other)}`);
  }));
  const large = [...document.querySelectorAll(".sink .wet .button")].filter(shown)
    .map(each => [each, each.getBoundingClientRect()]);
  large.forEach(([one, a], place) => {
    if (a.height < 71.9) faults.push(`for wet hands ${Math.round(a.height)} px high: ${called(one)}`);
    large.slice(place + 1).forEach(([other, b]) => {
      if (near(a, b, 15.9)) faults.push(`for wet hands too near: ${called(one)}, ${called(other)}`);
    });
  });
  for (const caution of document.querySelectorAll(".caution")) {
    const a = caution.getBoundingClientRect();
    for (const [target, b] of targets)
      if (!caution.contains(target) && near(a, b, 3)) faults.push(`a caution touches ${called(target)}`);
  }

  // Colour never stands alone.
  for (const swatch of document.querySelectorAll("svg.swatch"))
    if (shown(swatch) && !swatch.parentElement.innerText.trim() && !swatch.closest(".pick") && !swatch.closest(".of")?.parentElement.innerText.trim()) faults.push(`a swatch without a name: ${swatch.parentElement.outerHTML}`);
  for (const bar of document.querySelectorAll("svg.colourbar, svg.costbar, svg.timeline, svg.where")) {
    const said = bar.getAttribute("aria-label") || bar.getAttribute("aria-labelledby");
    const leftOut = bar.getAttribute("aria-hidden") === "true" && bar.parentElement.innerText.trim();
    if (!(bar.getAttribute("role") === "img" && said) && !leftOut)
      faults.push(`a drawing that is not said in words: ${bar.outerHTML.slice(0, 90)}`);
  }
  for (const picture of document.images) {
    if (!picture.getAttribute("width") || !picture.getAttribute("height"))
      faults.push(`a picture without its measures: ${picture.outerHTML.slice(0, 90)}`);
    if (picture.complete && !picture.naturalWidth) faults.push(`a picture that does not load: ${picture.src}`);
  }
  const ids = [...document.querySelectorAll("[id]")].map(each => each.id);
  const twice = new Set(ids.filter((id, place) => ids.indexOf(id) !== place));
  for (const id of twice) faults.push(`the id ${id} stands twice`);
  return faults;
}
