/* Sends what waits on this phone, in order and one thing at a time. A copy is only thrown away when the studio's answer
   names it; what is refused stays, with the studio's own sentence. */
"use strict";

const sender = (() => {
  const LOCK = "clearbath sender";
  const TAB = Math.random().toString(36).slice(2);
  const LEASE_MS = 45_000, PATIENCE_MS = 20_000, STALL_MS = 60_000, TICK_MS = 30_000, LONGEST_WAIT_S = 60;
  const TROUBLES = 3; // after so many faults of the studio's own, or of what stands before it, one lets the others go first
  const AT_FAULT = [400, 403, 404, 409, 410, 413, 415, 422];
  const now = { signedOut: false, other: false, away: false, share: null };
  let running = null, again = false, fails = 0, notBefore = 0;

  function flush({ patient = false } = {}) {
    if (patient && Date.now() < notBefore) return running ?? Promise.resolve();
    again = true;
    running ??= rounds();
    return running;
  }

  /* One more for each word that came meanwhile; over in the same breath in which none is left, or a word would be lost. */
  async function rounds() {
    try {
      while (again) {
        again = false;
        await alone(round);
      }
    } catch { /* the next word, or the next tick, tries again */ } finally {
      running = null;
    }
  }

  /* One sender among all open pages. Where the browser has no locks, a lease in the phone's store. */
  async function alone(work) {
    if (navigator.locks) return navigator.locks.request(LOCK, work);
    if (await lease()) return work().finally(() => lease(0));
    return setTimeout(flush, LEASE_MS / 10);
  }

  function lease(lasts = LEASE_MS) {
    let mine = false;
    return phone.use(["small"], "readwrite", (at) => {
      const asked = at.small.get("lease");
      asked.onsuccess = () => {
        const { tab, until } = asked.result ?? {};
        mine = tab === TAB || !(until > Date.now());
        if (mine) at.small.put({ tab: TAB, until: Date.now() + lasts }, "lease");
      };
      return () => mine;
    });
  }

  async function round() {
    const tried = new Set();
    for (;;) {
      const one = next(await phone.all("waiting"), tried);
      if (!one) return;
      tried.add(one.id);
      if (!navigator.locks) await lease();
      if (!await deliver(one)) return;
    }
  }

  /* Refused ones stand aside, and what names another one comes after it; a strike-out may come first. */
  function next(waiting, tried) {
    const ids = new Set(waiting.map((one) => one.id));
    const free = waiting.filter((one) => one.person === pages.whose() && !one.problem && !tried.has(one.id)
      && (one.kind === "strike" || !one.fields.some(([, value]) => ids.has(value))));
    const late = (one) => (one.troubles ?? 0) >= TROUBLES;
    return free.sort((a, b) => late(a) - late(b) || a.seq - b.seq)[0];
  }

  /* Whether the next one may be tried. */
  async function deliver(one) {
    const { files } = await phone.get("files", one.id) ?? {};
    // Counted before it goes: whatever becomes of this page, the studio may have it from here on.
    if (!await mark(one.id, (kept) => { kept.tries += 1; kept.lost += 1; })) return true; // taken back a moment ago
    let answer = await post(one, files);
    if (answer.said?.error === "csrf") {
      const who = await fetch("/signed-in/", { headers: { Accept: "application/json" }, redirect: "manual" }).catch(() => null);
      answer = who?.ok ? await post(one, files) : { status: who?.status ?? 0 };
    }
    now.share = null;
    const going = await judge(one, answer);
    outbox.announce();
    return going;
  }

  async function judge(one, { status, said }) {
    now.signedOut = status === 401;
    now.other = said?.error === "other_person";
    const faulty = status >= 500 || status >= 400 && !said; // without a word of the studio's: a proxy has its own limits
    now.away = status === 0 || faulty;
    if ((status === 200 || status === 201) && said?.id === one.id) {
      fails = notBefore = 0;
      await phone.use(["waiting", "files", "small"], "readwrite", (at) => {
        at.waiting.delete(one.id);
        at.files.delete(one.id);
        at.small.put(Date.now(), `sent ${one.person}`);
      });
      document.dispatchEvent(new CustomEvent("clearbath:sent", { detail: { one, refused: said.refused ?? [] } }));
      return true;
    }
    if (now.signedOut || now.other || said?.error === "csrf") {
      await mark(one.id, (kept) => { kept.lost -= 1; });
      return false;
    }
    if (said && AT_FAULT.includes(status)) {
      // Who answers by its number has looked for it first: it is not in the log, whatever became of earlier tries.
      await mark(one.id, (kept) => { kept.lost = said.id === one.id ? 0 : kept.lost - 1; kept.problems = problemsOf(said); kept.problem = kept.problems.map(([, words]) => words).join(" "); });
      return true;
    }
    await mark(one.id, (kept) => { kept.troubles = (kept.troubles ?? 0) + faulty; });
    if (faulty && (one.troubles ?? 0) + 1 >= TROUBLES) return true;
    rest();
    return false;
  }

  /* [field, sentence] of each thing the studio found wrong. */
  function problemsOf({ errors, sentence }) {
    const found = Object.entries(errors ?? {}).flatMap(([name, words]) => words.map((each) => [name, each]));
    return found.length ? found : [["__all__", sentence || "The studio did not take it, and gave no reason."]];
  }

  /* Longer each time, and never all phones at the same moment. */
  function rest() {
    fails += 1;
    const wait = Math.min(2 ** fails, LONGEST_WAIT_S) * 1000 * (0.5 + Math.random() / 2);
    notBefore = Date.now() + wait;
    setTimeout(() => flush({ patient: true }), wait + 50);
  }

  /* Change a kept one, if it is still kept. Answers whether it was. */
  function mark(id, change) {
    return phone.use(["waiting"], "readwrite", (at) => {
      const asked = at.waiting.get(id);
      asked.onsuccess = () => {
        if (!asked.result) return;
        change(asked.result);
        at.waiting.put(asked.result);
      };
      return () => Boolean(asked.result);
    });
  }

  function token() {
    return document.cookie.match(/(?:^|; )(?:__Host-)?csrf=([^;]*)/)?.[1] ?? "";
  }

  /* The answer, {status, said}; status 0 where none came. A redirect is none: it leads to a page for people. */
  async function post(one, files = []) {
    const headers = { Accept: "application/json", "X-CSRFToken": token(), "X-Person": one.person };
    const fields = [["id", one.id], ...one.fields, ["sent_at", new Date().toISOString()]];
    try {
      return files.length ? await upload(one, headers, fields, files) : await quick(one, headers, fields);
    } catch {
      return { status: 0 };
    }
  }

  async function quick(one, headers, fields) {
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), PATIENCE_MS);
    try {
      const body = new URLSearchParams(fields);
      const answer = await fetch(one.path, { method: "POST", body, headers, redirect: "manual", signal: stop.signal });
      return { status: answer.status, said: await answer.json().catch(() => null) };
    } finally {
      clearTimeout(timer);
    }
  }

  /* With a file: by the older way, the only one that tells how much has gone. It ends when nothing moves for a minute. */
  function upload(one, headers, fields, files) {
    const body = new FormData();
    for (const [name, value] of fields) body.append(name, value);
    for (const { name, called, type, bytes } of files) body.append(name, new File([bytes], called, { type }));
    return new Promise((resolve, reject) => {
      const asked = new XMLHttpRequest();
      let stalled = setTimeout(() => asked.abort(), STALL_MS);
      asked.upload.onprogress = ({ loaded, total }) => {
        clearTimeout(stalled);
        stalled = setTimeout(() => asked.abort(), STALL_MS);
        now.share = total ? loaded / total : null;
        document.dispatchEvent(new Event("clearbath:progress"));
        if (!navigator.locks) lease();
      };
      asked.onloadend = () => {
        clearTimeout(stalled);
        if (!asked.status) return reject(new Error("No answer came."));
        let said = null;
        try { said = JSON.parse(asked.responseText); } catch { /* a page for people: no answer to us */ }
        resolve({ status: asked.status, said });
      };
      asked.open("POST", one.path);
      for (const [name, value] of Object.entries(headers)) asked.setRequestHeader(name, value);
      asked.send(body);
    });
  }

  window.addEventListener("online", () => flush());
  document.addEventListener("visibilitychange", () => { if (!document.hidden) flush(); });
  setInterval(() => flush({ patient: true }), TICK_MS);
  pages.ready.then(() => flush());

  return { flush, post, mark, now, token };
})();
