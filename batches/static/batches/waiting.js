/* What waits on this phone, where somebody sees it: the count on top of the sink, a row for each thing, what was
   refused and why, and the way to put it right or to take it back. */
"use strict";

(() => {
  const desk = document.querySelector("[data-desk]");
  if (!desk) return;
  const count = desk.querySelector("[data-outbox]");
  const rows = desk.querySelector("[data-rows-here]");
  const rest = desk.querySelector("[data-waits-too]");
  const sendNow = desk.querySelector("[data-send-now]");
  const signIn = desk.querySelector("[data-sign-in]");
  const bar = desk.querySelector("progress");
  const said = desk.querySelector("[data-said]");
  const mould = document.querySelector("template[data-waiting-row]");
  const SAID_MS = 15_000;
  const FOLLOW_MS = 30_000;
  let drawing = null, stale = false;
  let stood = []; // what waited when this was drawn last
  let touched = false, sent = false; // since the page was drawn
  let sentSince = []; // since the studio was asked for it: done, and not on it, it may be

  /* One drawing at a time, and one more after the last change. */
  function show() {
    stale = true;
    drawing ??= drawings();
    return drawing;
  }

  async function drawings() {
    while (stale) {
      stale = false;
      await draw().catch(() => {});
    }
    drawing = null;
  }

  async function draw() {
    await pages.ready;
    const all = await phone.all("waiting");
    const mine = outbox.mineIn(all);
    const sentAt = await phone.get("small", `sent ${pages.whose()}`);
    const waiting = mine.filter((one) => !one.problem);
    const ids = mine.map(({ id }) => id);
    sent ||= stood.some((id) => !ids.includes(id)); // by another open page, it may be
    stood = ids;
    write(count, words(waiting, mine.filter((one) => one.problem), all.length - mine.length, sentAt));
    sendNow.hidden = !waiting.length || sender.now.signedOut;
    signIn.hidden = !sender.now.signedOut && !sender.now.other;
    signIn.href = `/sign-in/?next=${encodeURIComponent(pages.here())}`;
    place(mine);
    const done = [...waiting, ...sentSince.filter(({ id }) => !waiting.some((one) => one.id === id))];
    hideWhatWaits(done);
    document.dispatchEvent(new CustomEvent("clearbath:waiting", {
      detail: done.map(({ id, kind, fields, say, at, path }) => ({ id, kind, fields, say, at, path })),
    }));
  }

  function words(waiting, refused, others, sentAt) {
    const said = [];
    const sent = sentAt ? `sent ${pages.clock(sentAt)}` : "";
    if (waiting.length) said.push(`${waiting.length} on this phone${why()}${sent ? `; the last one ${sent}` : ""}.`);
    if (refused.length) said.push(`${refused.length} ${refused.length === 1 ? "needs" : "need"} a look from you.`);
    if (!said.length) said.push(sent ? `All ${sent}.` : "Nothing waits on this phone.");
    if (others) said.push(`${others} of somebody else ${others === 1 ? "waits" : "wait"} here until they sign in.`);
    return said.join(" ");
  }

  function why() {
    if (sender.now.signedOut) return ", kept until you sign in";
    if (sender.now.other) return ", kept: somebody else is signed in here now";
    const saidBelow = !document.querySelector("[data-as-of]").hidden;
    return sender.now.away && !saidBelow ? ", not sent yet: the studio does not answer" : ", not sent yet";
  }

  /* A status is read out when it changes, so it is left alone when it does not. */
  function write(element, text) {
    if (element.textContent !== text) element.textContent = text;
  }

  /* This pot's stand in its log, the newest as what was done last; what needs a look on top; all else is folded. */
  function place(mine) {
    const main = pages.main();
    const list = main.querySelector("[data-waiting]");
    const here = pages.isSink() ? location.pathname.replace(/\/\d+\/all\/$/, "/") : "-"; // at all pots, those of every pot
    const others = rest.querySelector("ol");
    let newest = null;
    list?.querySelectorAll("[data-id]").forEach((row) => row.remove());
    rows.replaceChildren();
    others.replaceChildren();
    for (const one of mine) {
      if (main.querySelector(`form[data-again="${one.id}"]`)) continue; // its form says it
      const ofThisPot = one.path.startsWith(here);
      const inLog = !one.problem && list && ofThisPot;
      if (inLog) list.prepend(rowOf(newest = one));
      else (one.problem ? rows : others).append(rowOf(one, !ofThisPot));
    }
    rows.hidden = !rows.children.length;
    rest.hidden = !others.children.length;
    write(rest.querySelector("summary"), list ? `${others.children.length} of other pots` : "What waits");
    const last = newest ?? sentSince.findLast((one) => list && one.path.startsWith(here));
    doneLast(main.querySelector(".block.last"), last, last !== newest);
    pages.load();
  }

  /* The page as kept does not know what was done since. What is in the log already is undone where its line stands. */
  function doneLast(block, one, isLogged) {
    if (!block) return;
    block.querySelector("[data-newest]")?.remove();
    for (const part of block.children) part.classList.toggle("away", Boolean(one));
    if (!one) return;
    const row = rowOf(one);
    const last = document.createElement("div");
    const said = document.createElement("p");
    const [what, undo] = [row.querySelector(".what"), row.querySelector("[data-take-back]")];
    last.dataset.newest = "";
    undo.firstChild.data = "Undo";
    undo.classList.add("undo");
    undo.dataset.id = one.id;
    said.append("Last: ", what, `, ${pages.clock(happened(one))}${isLogged ? "" : ", on this phone"}`);
    last.append(said, ...(isLogged ? [] : [undo]));
    block.append(last);
  }

  /* When it happened, as was said: "15 min ago", or a time that was set. */
  function happened({ at, fields }) {
    const { ago, when } = Object.fromEntries(fields);
    return Date.parse(when) || at - (Number(ago) || 0) * 60_000;
  }

  function rowOf(one, elsewhere) {
    const row = mould.content.firstElementChild.cloneNode(true);
    const time = row.querySelector("time");
    const at = happened(one);
    time.dateTime = new Date(at).toISOString();
    time.textContent = pages.clock(at);
    row.dataset.id = one.id;
    row.querySelector(".what").textContent = one.say;
    row.querySelector(".sub").textContent = `${elsewhere && one.pot ? `${one.pot}, ` : ""}on this phone, not in the log yet`;
    const problem = row.querySelector("[data-problem]");
    problem.textContent = one.problem ?? "";
    problem.hidden = !one.problem;
    const right = row.querySelector("[data-put-right]");
    const page = one.problem && pageOf(one);
    right.hidden = !page;
    if (page) right.href = `${page}#again=${one.id}`;
    row.querySelector("[data-take-back]").firstChild.data = one.problem ? "Throw away" : "Take back";
    for (const name of row.querySelectorAll("[data-name]")) name.textContent = ` ${one.say}`;
    return row;
  }

  /* Where its form is; a button of the sink itself has none, but for a planned amount. */
  function pageOf(one) {
    const sink = pages.sinkOf(one.path);
    if (!pages.isSink(one.page)) return one.page;
    const line = one.fields.find(([name]) => name === "line")?.[1];
    return one.kind === "tick" && line ? `${sink}add/tick/?line=${line}` : "";
  }

  /* A planned step that waits is done for whoever stands there: the page as kept must not offer it once more. */
  function hideWhatWaits(waiting) {
    const main = pages.main();
    for (const hidden of main.querySelectorAll("[data-waits]")) {
      hidden.hidden = false;
      delete hidden.dataset.waits;
    }
    const forms = [...main.querySelectorAll("form[data-log]")].filter((form) => form.elements.line);
    let hid = false;
    for (const one of waiting) {
      if (!["tick", "done_to_here", "weighed"].includes(one.kind)) continue;
      const line = one.fields.find(([name]) => name === "line")?.[1];
      const until = forms.findLastIndex((form) => form.elements.line.value === line);
      forms.forEach((form, number) => {
        const same = form.elements.line.value === line;
        if (one.kind === "weighed" ? !same || form.elements.kind.value !== "weighed" : one.kind === "tick" ? !same : number > until) return;
        const shown = (one.kind !== "weighed" && form.closest("li, section")) || form;
        shown.hidden = true;
        shown.dataset.waits = "";
        hid = true;
      });
    }
    const fold = main.querySelector("details:has(li [name=line])");
    if (!fold) return;
    const broughtUp = bringUp(main, fold, waiting);
    if (hid && !broughtUp) fold.open = true;
    const left = fold.querySelectorAll("li:not([data-waits])").length;
    const summary = fold.querySelector("summary");
    write(summary, summary.textContent.replace(/\d+ more steps?/, `${left} more step${left === 1 ? "" : "s"}`));
    fold.hidden = !left;
  }

  /* Where the next step waits, the first after it that does not is the next one; nothing where the page has not got it.
     One that stands there already is left alone, with the focus that may be in it. */
  function bringUp(main, fold, waiting) {
    const there = main.querySelector("[data-brought-up]");
    const done = main.querySelector(".next[data-waits]:not([data-brought-up])");
    const row = done && fold.querySelector("li:not([data-waits])");
    const line = row?.querySelector("[name=line]").value;
    const mould = row && main.querySelector(`template[data-soon="${line}"]`);
    if (there && (!mould || there.dataset.broughtUp !== line)) there.remove();
    if (!mould) return false;
    if (there?.dataset.broughtUp !== line) done.before(stepOf(mould, line, waiting));
    row.hidden = true;
    row.dataset.waits = "";
    return true;
  }

  function stepOf(mould, line, waiting) {
    const step = mould.content.firstElementChild.cloneNode(true);
    step.dataset.broughtUp = line;
    step.setAttribute("aria-labelledby", "soon");
    step.querySelector("h2").id = "soon";
    const stands = waiting.some((one) => one.kind === "weighed" && one.fields.some(([name, value]) => name === "line" && value === line));
    if (stands) step.querySelector("form:has([value=weighed])")?.remove();
    return step;
  }

  /* --- what can be pressed */
  desk.addEventListener("click", (event) => { if (event.target.closest("[data-send-now]")) sender.flush(); });
  document.addEventListener("click", (event) => {
    const row = event.target.closest?.("[data-take-back]")?.closest("[data-id]");
    if (row) outbox.takeBack(row.dataset.id);
  });

  function tell(words) {
    said.textContent = words;
    said.hidden = !words;
    if (words) setTimeout(() => { if (said.textContent === words) said.hidden = true; }, SAID_MS);
  }

  document.addEventListener("clearbath:say", (event) => tell(event.detail));
  document.addEventListener("clearbath:sent", ({ detail }) => {
    sent = true;
    sentSince.push({ ...detail.one, sentAt: Date.now() });
    desk.querySelector("[data-logged]").textContent = `Logged: ${detail.one.say}.`;
    if (detail.refused.length) tell(detail.refused.join(" "));
  });
  document.addEventListener("clearbath:progress", () => {
    bar.hidden = sender.now.share === null;
    if (sender.now.share !== null) bar.value = sender.now.share;
  });
  document.addEventListener("clearbath:kept", () => {
    bar.hidden = sender.now.share === null;
    show().then(follow);
  });
  document.addEventListener("clearbath:drawn", show);
  document.addEventListener("clearbath:again", show);

  /* Sent in the background, from here or from another page: the log of the sink follows, and so does a page that was
     opened without the studio, once it answers. Unless somebody is about to say something on it. Asked again as long as
     no answer comes. */
  async function follow() {
    const waits = outbox.mineIn(await phone.all("waiting")).some((one) => !one.problem);
    const old = sent || !document.querySelector("[data-as-of]").hidden;
    if (old && !waits && !touched && !document.hidden && !outbox.isBusy() && pages.isSink()) await pages.fresh(pages.here());
  }
  document.addEventListener("input", () => { touched = true; });
  document.addEventListener("clearbath:drawn", ({ detail }) => {
    touched = false;
    if (!detail?.asked) return;
    sentSince = sentSince.filter(({ sentAt }) => sentAt > detail.asked);
    sent = sentSince.length > 0;
    follow();
  });
  document.addEventListener("visibilitychange", follow);
  window.addEventListener("online", follow);
  setInterval(follow, FOLLOW_MS);
  pages.ready.then(show).then(follow);
})();
