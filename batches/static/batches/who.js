/* Who is dyeing: a name that is touched counts from that moment, without a network too; the studio is told when it answers.
   What each line says is the name that stood here when it was logged, so nothing has to wait for that. */
"use strict";

(() => {
  const KEY = "clearbath.who";
  const TICK_MS = 30_000;
  const main = () => document.querySelector("main");
  const names = () => main()?.querySelector("form[data-who]");
  let telling = null, asked = false;

  function remembered() {
    try {
      const said = JSON.parse(localStorage.getItem(KEY));
      return said?.person === main()?.dataset.person ? said : null; // another session has another person's name
    } catch {
      return null;
    }
  }

  function remember(by, since, untold) {
    try {
      localStorage.setItem(KEY, JSON.stringify({ person: main().dataset.person, by, since, untold }));
    } catch { /* no room: it holds as long as this page does */ }
  }

  /* A page that was kept on this phone may be older than the last touch; one from the studio is newer. */
  function dress() {
    if (!main()?.dataset.since) return;
    const said = remembered();
    const since = Number(main().dataset.since);
    if (said && (said.untold || said.since > since)) show(said.by);
    else remember(main().dataset.by, since, false);
    if (said?.untold) tell();
  }

  function show(by) {
    const before = main().dataset.by;
    main().dataset.by = by;
    for (const chip of main().querySelectorAll("button[data-by]")) {
      const pressed = chip.dataset.by === by;
      chip.setAttribute("aria-pressed", pressed);
      if (pressed && chip.closest("details")) names().querySelector(".chips").append(chip);
    }
    for (const choice of main().querySelectorAll("select[name=by]")) if (choice.value === before) choice.value = by;
  }

  document.addEventListener("submit", (event) => {
    const form = event.target.closest?.("form[data-who]");
    const by = event.submitter?.dataset.by;
    if (!form || !by || event.defaultPrevented) return;
    event.preventDefault();
    remember(by, remembered()?.since ?? 0, true);
    show(by);
    tell();
  });

  /* Asked for while one is under way, it is done once more: that one may have been lost just before the network came back. */
  function tell() {
    asked = true;
    telling ??= (async () => {
      while (asked) {
        asked = false;
        await tellNow().catch(() => {});
      }
      telling = null;
    })();
  }

  /* What waits goes first: it may be of a session that ends when another name is touched. */
  async function tellNow() {
    if (await someWait()) return;
    const said = remembered();
    const form = names();
    if (!said?.untold || !form) return;
    const headers = { Accept: "application/json", "X-CSRFToken": sender.token() };
    const body = new URLSearchParams({ by: said.by });
    const answer = await fetch(form.action, { method: "POST", body, headers, redirect: "manual" });
    if (answer.status >= 500) return;
    const { since = 0 } = answer.ok ? await answer.json() : {};
    if (remembered()?.by !== said.by) return tellNow(); // another name was touched meanwhile
    remember(said.by, since, false);
    await redraw();
  }

  async function someWait() {
    if (typeof sender === "undefined") return false;
    await pages.ready;
    await sender.flush();
    if (sender.now.signedOut) return false;
    return outbox.mineIn(await phone.all("waiting")).some((one) => !one.problem);
  }

  /* What may be struck out depends on who asks. */
  async function redraw() {
    if (typeof pages === "undefined") return location.reload();
    const here = pages.here();
    if (await pages.fresh(here) === "elsewhere") location.assign(here);
  }

  const again = () => { if (remembered()?.untold) tell(); };

  window.addEventListener("online", again);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) again(); });
  document.addEventListener("clearbath:sent", again);
  document.addEventListener("clearbath:drawn", dress);
  setInterval(again, TICK_MS);
  dress();
})();
