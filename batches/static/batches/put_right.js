/* What the studio refused is put right here: its form opens with what was typed, and with what was wrong. Only asked for
   once something was refused. */
"use strict";

(() => {
  async function openAgain() {
    const id = location.hash.match(/^#again=([0-9a-f-]{36})$/)?.[1];
    const one = id && await phone.get("waiting", id);
    if (!one) return;
    const form = [...pages.main().querySelectorAll("form[data-log]")].find((each) => each.elements.kind?.value === one.kind);
    if (!form) return;
    history.replaceState(null, "", pages.here());
    form.dataset.again = id;
    const names = new Set(one.fields.map(([name]) => name));
    for (const field of form.elements) {
      if (!field.name || ["hidden", "file", "submit"].includes(field.type)) continue;
      const values = one.fields.filter(([name]) => name === field.name).map(([, value]) => value);
      if (["checkbox", "radio"].includes(field.type)) field.checked = values.includes(field.value);
      else if (names.has(field.name)) field.value = values[0];
      if (values[0] && field.type !== "radio") field.closest("details")?.setAttribute("open", "");
    }
    if (one.problem) refused(form, one);
  }

  /* What the studio found wrong, as its own page would say it: on top, with a way to each box. The row that waits is not
     shown beside it, so the way to throw it away stands here. */
  function refused(form, one) {
    form.dataset.again = one.id;
    const main = pages.main();
    main.querySelector(".errors")?.remove();
    const box = document.createElement("div");
    box.className = "errors";
    box.tabIndex = -1;
    box.dataset.id = one.id;
    box.setAttribute("role", "alert");
    const heading = document.createElement("h2");
    heading.textContent = `${one.say}, ${pages.clock(one.at)}`;
    const list = document.createElement("ul");
    for (const [name, sentence] of one.problems) {
      const item = document.createElement("li");
      const named = form.elements[name];
      const field = named instanceof RadioNodeList ? named[0] : named;
      const link = document.createElement(field?.id ? "a" : "span");
      if (field?.id) link.href = `#${field.id}`;
      else link.className = "red";
      link.textContent = sentence;
      item.append(link);
      list.append(item);
    }
    const away = document.createElement("button");
    away.type = "button";
    away.className = "button";
    away.textContent = "Throw away";
    away.dataset.takeBack = "";
    away.addEventListener("click", () => {
      box.remove();
      delete form.dataset.again;
    });
    box.append(heading, list, away);
    form.before(box);
    box.focus();
    document.dispatchEvent(new Event("clearbath:again"));
  }

  document.addEventListener("clearbath:refused", ({ detail }) => refused(detail.form, detail.one));
  document.addEventListener("clearbath:drawn", openAgain);
  window.addEventListener("hashchange", openAgain); // from the very page it leads to
  pages.ready.then(openAgain);
})();
