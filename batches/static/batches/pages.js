/* Pages of the sink as the studio drew them: kept on this phone for who is signed in, and drawn in place without the
   page being left. Stands before the scripts that dress a page, as what is kept is the page as it came. */
"use strict";

const pages = (() => {
  const PATIENCE_MS = 3000;
  const DAYS_KEPT = 21;
  const KIT_AFTER_MS = 2000; // the page in front of somebody comes first
  const OF_THE_SINK = /^\/sink\/\d+\//;
  const FOR_ALL = /[?&]pots=all$/;
  const asItCame = document.querySelector("main")?.outerHTML;
  let { person = null, view = person } = document.querySelector("main")?.dataset ?? {}; // who signed in; as whom they see it
  let drawnAs = here();
  let mayBeLeft = window.isSecureContext; // a worker opens the next page without a network
  let inputs = 0, visits = 0, questions = 0; // how often somebody typed or chose, went on in place, and the studio was asked
  const answered = new Map(); // by path, the last of the questions that was answered

  function here() {
    return location.pathname + location.search;
  }

  const main = () => document.querySelector("main");
  const isSink = (path = location.pathname) => /^\/sink\/\d+\/(all\/)?$/.test(path);
  const sinkOf = (path) => path.match(OF_THE_SINK)?.[0];
  const whose = () => person;
  const typed = () => inputs;

  function parse(html) {
    const page = new DOMParser().parseFromString(html, "text/html");
    const found = page.querySelector("main[data-pot]");
    return found && { title: page.title, html: found.outerHTML, person: found.dataset.person, view: found.dataset.view, kit: found.dataset.kit };
  }

  /* The token of a form changes at each sign-in and is read when sending, so it is not kept. */
  function row(path, page) {
    const html = page.html.replace(/(name="csrfmiddlewaretoken" value=")[^"]*/g, "$1");
    return { person: view, path, title: page.title, html, at: Date.now() };
  }

  /* A page for all pots that is not kept is the page for one, with the other choice made. */
  async function get(path) {
    if (!view) return null;
    const kept = await phone.get("pages", [view, path]).catch(() => null);
    const other = path.replace(FOR_ALL, "");
    return kept || other === path ? kept : phone.get("pages", [view, other]).catch(() => null);
  }

  const keep = (path, page) => phone.put("pages", row(path, page)).catch(() => {}); // no room: it works as long as it is open

  /* The pages for logging come together, and again only when something on them has changed. */
  async function keepKit(version) {
    const sink = sinkOf(location.pathname);
    if (!version || await phone.get("small", `kit ${view} ${sink}`) === version) return;
    if (!sink) return;
    const answer = await fetch(`${sink}kit/`, { headers: { Accept: "application/json" }, redirect: "manual" });
    if (!answer.ok) return;
    const kit = await answer.json();
    await phone.use(["pages", "small"], "readwrite", (at) => {
      const asked = at.pages.openCursor();
      asked.onsuccess = () => {
        const old = asked.result;
        if (!old) return;
        if (old.value.at < Date.now() - DAYS_KEPT * 86_400_000) old.delete();
        old.continue();
      };
      for (const page of kit.pages) at.pages.put(row(page.path, page));
      at.small.put(kit.version, `kit ${view} ${sink}`);
    });
  }

  function keptSince(at) {
    const note = document.querySelector("[data-as-of]");
    note.hidden = !at;
    note.querySelector("time").textContent = at ? clock(at) : "";
  }

  /* `place`: where on the page, as a link's address says it behind a #. `asked`: when the studio was asked for it just
     now [ms]; nothing for one that was kept. */
  function draw(page, path, place = "", asked = null) {
    const fresh = new DOMParser().parseFromString(page.html, "text/html").querySelector("main");
    const moved = path !== here();
    if (moved) history.pushState(null, "", path + place);
    drawnAs = path;
    for (const picture of fresh.querySelectorAll("img")) picture.onerror = () => { picture.hidden = true; };
    main().replaceWith(document.adoptNode(fresh));
    if (FOR_ALL.test(path)) for (const all of fresh.querySelectorAll("[name=pots][value=all]")) all.checked = true;
    document.title = page.title;
    fresh.tabIndex = -1;
    fresh.focus({ preventScroll: true });
    if (moved) scrollTo(0, 0);
    document.dispatchEvent(new CustomEvent("clearbath:drawn", { detail: { asked } }));
  }

  /* Whether somebody still stands where they stand now, and has not begun to say anything there. */
  function undisturbed() {
    const [path, before] = [here(), inputs];
    return () => here() === path && inputs === before;
  }

  /* The page from the studio: drawn and kept. Answers whether it came; one that leads elsewhere is opened as ever.
     Answers may overtake each other: an older one is no longer kept, nor drawn over a newer. */
  async function fresh(path, { patience = 15_000, wanted = undisturbed(), place } = {}) {
    const question = ++questions, asked = Date.now();
    const old = () => (answered.get(path) ?? 0) > question;
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), patience);
    try {
      const answer = await fetch(path, { headers: { Accept: "text/html" }, redirect: "manual", signal: stop.signal });
      if (!answer.ok) return answer.type === "opaqueredirect" ? "elsewhere" : "";
      const page = parse(await answer.text());
      if (page?.person !== person || (page.view ?? person) !== view) return "elsewhere";
      if (!old()) {
        answered.set(path, question);
        await keep(path, page);
      }
      if (wanted() && !(old() && here() === path)) {
        draw(page, path, place, asked);
        keptSince();
      }
      keepKit(page.kit).catch(() => {});
      return "drawn";
    } catch {
      return "";
    } finally {
      clearTimeout(timer);
    }
  }

  /* As a link would, without leaving the page: where no worker stands in for the network, it must not be left. Of several
     links the one that was touched last is followed. */
  async function visit(path, place) {
    const visit = ++visits;
    const wanted = () => visit === visits;
    const came = await fresh(path, { patience: PATIENCE_MS, place, wanted });
    const kept = came ? null : await get(path);
    if (!wanted()) return;
    if (came === "elsewhere") return location.assign(path);
    if (came) return;
    if (kept) {
      draw(kept, path, place);
      keptSince(kept.at);
    } else document.dispatchEvent(new CustomEvent("clearbath:say", { detail: "The studio does not answer, and this page is not on this phone." }));
  }

  /* This browser gives no worker: from now on links of the sink are visited in place. */
  function stay() {
    mayBeLeft = false;
    // No worker keeps the scripts that a page drawn later needs, so they come while there still is a network.
    setTimeout(() => ["pad", "shrink", "put_right"].forEach((name) => load(name)), KIT_AFTER_MS);
    document.querySelector("[data-stays-open]").hidden = !window.isSecureContext; // plain http the page tells of itself
  }

  document.addEventListener("input", () => { inputs += 1; });
  document.addEventListener("click", (event) => {
    const link = event.target.closest?.("a[href]");
    if (!link || mayBeLeft || event.defaultPrevented || event.ctrlKey || event.metaKey || event.shiftKey) return;
    const { origin, pathname, search, hash } = new URL(link.href);
    if (origin !== location.origin || !OF_THE_SINK.test(pathname) || !main().dataset.pot) return;
    if (hash && pathname + search === here()) return; // a place on this page: what was typed stays
    event.preventDefault();
    visit(pathname + search, hash);
  });
  window.addEventListener("popstate", () => { if (here() !== drawnAs) visit(here()); });

  /* --- the page without a person, before what was kept is put into it */
  async function fillShell() {
    await standing; // no form may stand there before the scripts that keep what it says
    [person, view] = await phone.get("small", "person") ?? [null, null];
    const page = await get(here());
    if (page) {
      draw(page, here());
      keptSince(page.at);
      return;
    }
    const list = document.querySelector("[data-kept-pots]");
    const kept = view ? (await phone.all("pages")).filter((one) => one.person === view && isSink(one.path)) : [];
    for (const one of kept.sort((a, b) => b.at - a.at)) {
      const link = document.createElement("a");
      link.className = "button full";
      link.href = one.path;
      link.textContent = one.title.replace(/, at the sink.*/, "");
      list.append(link);
    }
    document.querySelector(kept.length ? "[data-some-kept]" : "[data-none-kept]").hidden = false;
    document.dispatchEvent(new Event("clearbath:drawn"));
  }

  /* A script named by a `data-for` is asked for once something on the page has a use for it, or when it is wanted by name. */
  const loading = new Map();
  function load(name) {
    for (const later of document.querySelectorAll("template[data-for]")) {
      const { src } = later.dataset;
      if (name ? !src.includes(name) : !document.querySelector(later.dataset.for)) continue;
      const script = document.createElement("script");
      script.src = src;
      loading.set(src, new Promise((resolve) => { script.onload = script.onerror = resolve; }));
      later.replaceWith(script);
    }
    return Promise.all([...loading].filter(([src]) => name && src.includes(name)).map(([, done]) => done));
  }
  document.addEventListener("clearbath:drawn", () => load());
  document.addEventListener("DOMContentLoaded", () => load());

  const clock = (at) => [new Date(at).getHours(), new Date(at).getMinutes()].map((part) => String(part).padStart(2, "0")).join(":");

  const standing = new Promise((resolve) => document.addEventListener("DOMContentLoaded", resolve));

  async function begin() {
    if (document.body.hasAttribute("data-shell")) return fillShell();
    if (!person) return;
    if ((await phone.get("small", "person"))?.join() !== [person, view].join()) await phone.forget(person, view);
    if (!main().dataset.pot) return;
    await keep(here(), { title: document.title, html: asItCame });
    setTimeout(() => keepKit(main().dataset.kit).catch(() => {}), KIT_AFTER_MS);
  }

  const ready = begin().catch(() => {});

  return { ready, load, main, here, whose, isSink, sinkOf, typed, get, draw, fresh, visit, stay, clock };
})();

/* --- the worker, which opens these pages without a network. A newer one waits until no form is half filled in. */
(() => {
  const { worker } = document.body.dataset;
  if (!navigator.serviceWorker) return pages.stay();
  if (!worker) return;
  let touched = false;
  let registered = null;
  document.addEventListener("input", () => { touched = true; });
  document.addEventListener("clearbath:drawn", () => { touched = false; settle(); });

  function settle() {
    if (!touched) registered?.waiting?.postMessage({ takeOver: true });
  }

  /* Not for want of an answer: this browser does not trust the address, and will not for as long as that is so. */
  function refused(problem) {
    if (problem?.name === "SecurityError") pages.stay();
  }

  window.addEventListener("load", async () => {
    // Browsers look for a newer one at every page; for an hour their own copy answers, so that this asks nobody.
    registered = await navigator.serviceWorker.register(worker, { updateViaCache: "all" }).catch(refused);
    if (!registered) return;
    settle();
    const watch = () => registered.installing?.addEventListener("statechange", settle);
    watch(); // one that was found before this page came to look
    registered.addEventListener("updatefound", watch);
    await navigator.serviceWorker.ready;
    // To the newest: a word to one that is being replaced wakes it, and browsers then wait until it sleeps again.
    const newest = registered.waiting ?? registered.active;
    newest.postMessage({ files: performance.getEntriesByType("resource").map((one) => one.name) });
  });
})();
