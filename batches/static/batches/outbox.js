/* What is logged at the sink is first kept on this phone and then sent: the same fields, to the same address, as the form
   would without this file. Nothing is said to be kept before it is. */
"use strict";

const outbox = (() => {
  const NOT_OF_THE_CONTENT = ["csrfmiddlewaretoken", "id", "sent_at", "offset"];
  const LONGEST_AGO_MS = 366 * 86_400_000;
  const PATIENCE_MS = 1500;
  let busy = 0; // how many forms are on their way
  const channel = "BroadcastChannel" in window ? new BroadcastChannel("clearbath") : null;

  function freshId() {
    const bytes = crypto.getRandomValues(new Uint8Array(16)); // randomUUID is missing over plain http
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  }

  document.addEventListener("submit", (event) => {
    const form = event.target.closest?.("form[data-log]");
    if (!form || event.defaultPrevented || !pages.whose()) return;
    event.preventDefault();
    if ("keeping" in form.dataset) return;
    form.dataset.keeping = "";
    log(form, event.submitter).finally(() => { delete form.dataset.keeping; });
  });

  /* From a page of its own back to the sink: at once where the studio answers, else soon, to the page that is kept. */
  async function log(form, button) {
    busy += 1;
    document.documentElement.dataset.logging = "";
    try {
      const { ones, left } = await collect(form, button);
      if (left.length) return noRoom(form, left, ones.length);
      if (!ones.length) return;
      navigator.storage?.persist?.().catch(() => {});
      const from = pages.here(), sink = sinkAfter(form, from), typed = pages.typed();
      const wanted = () => (pages.here() === sink ? pages.typed() === typed : pages.here() === from);
      announce();
      const going = sender.flush();
      if (from !== sink) {
        await Promise.race([going, new Promise((resolve) => setTimeout(resolve, PATIENCE_MS))]);
        const one = await phone.get("waiting", ones[0].id);
        if (one?.problem) await pages.load("put_right");
        if (one?.problem) return document.dispatchEvent(new CustomEvent("clearbath:refused", { detail: { form, one } }));
        if (!await nothingWaits()) await toKept(sink);
      }
      await going;
      if (!await nothingWaits() || !wanted()) return;
      const came = await pages.fresh(sink, { wanted });
      if (!wanted()) return; // whoever went on meanwhile, or began to say something else, stays there
      if (came === "elsewhere") location.assign(sink);
      else if (!came && from !== sink) await toKept(sink);
    } finally {
      busy -= 1;
      if (!busy) delete document.documentElement.dataset.logging;
    }
  }

  /* Back to where one came from: a sink page itself, or the one that a page belongs to. What goes on moves with it. */
  function sinkAfter(form, from) {
    if (pages.isSink(from) && !("onward" in form.dataset)) return from;
    const sink = pages.sinkOf(new URL(form.action).pathname);
    return form.elements.back?.value === "all" || from.endsWith("pots=all") ? `${sink}all/` : sink;
  }

  async function toKept(sink) {
    const kept = await pages.get(sink);
    if (kept && pages.here() !== sink) pages.draw(kept, sink);
  }

  /* --- a form becomes what is kept: one for each file, as each photo has a time of its own */
  async function collect(form, button) {
    const data = new FormData(form);
    if (button?.name) data.append(button.name, button.value);
    const fields = [], files = [];
    for (const [name, value] of data) {
      if (value instanceof File) { if (value.size) files.push({ name, file: value }); }
      else if (!NOT_OF_THE_CONTENT.includes(name)) fields.push([name, value]);
    }
    if (!data.get("by") && pages.main().dataset.by) fields.push(["by", pages.main().dataset.by]);
    const say = sayOf(form, button);
    const ones = [], left = [];
    const apart = files.length > 1; // only a form of photos has several
    for (const [number, each] of (files.length ? files : [null]).entries()) {
      const one = { ...describe(form, fields, each?.file), say };
      if (apart) one.say = `${say} (${number + 1} of ${files.length}, “${each.file.name.slice(0, 60)}”)`;
      try {
        await keep(one, each ? [await packed(each)] : [], form.dataset.again);
        ones.push(one);
      } catch (problem) {
        if (await straightAway(one, each)) ones.push(one);
        else left.push({ each, problem });
      }
    }
    return { ones, left };
  }

  function describe(form, fields, file) {
    const now = Date.now();
    const taken = file?.lastModified;
    const at = taken && taken <= now && taken > now - LONGEST_AGO_MS ? taken : now;
    const mine = fields.filter(([name]) => name !== "happened_at");
    const told = fields.find(([name, value]) => name === "happened_at" && value)?.[1];
    mine.push(["happened_at", told ?? new Date(at).toISOString()], ["offset", String(-new Date(at).getTimezoneOffset())]);
    return {
      id: freshId(), kind: fields.find(([name]) => name === "kind")?.[1] ?? "", fields: mine, person: pages.whose(),
      path: new URL(form.action).pathname, page: pages.here(), at: now, tries: 0, lost: 0,
      pot: pages.main().dataset.potName ?? "",
    };
  }

  async function packed({ name, file }) {
    if (name.startsWith("photo")) await pages.load("shrink");
    const small = name.startsWith("photo") && typeof shrink === "function" ? await shrink(file) : file;
    return { name, called: file.name, type: small.type, bytes: await small.arrayBuffer() };
  }

  /* The number of this device and of what it kept, in the same breath; a form that puts another one right replaces it. */
  function keep(one, files, instead) {
    return phone.use(["waiting", "files", "small"], "readwrite", (at) => {
      if (instead) give(at, instead);
      put(at, one);
      if (files.length) at.files.put({ id: one.id, files });
    });
  }

  function put(at, one) {
    const asked = at.small.get("device");
    asked.onsuccess = () => {
      const device = asked.result ?? { id: freshId(), seq: 0 };
      device.seq += 1;
      at.small.put(device, "device");
      at.waiting.put({ ...one, device: device.id, seq: device.seq });
    };
  }

  /* Take one away. If it ever went out without an answer the studio may have it, so a strike-out goes after it. */
  function give(at, id) {
    const asked = at.waiting.get(id);
    asked.onsuccess = () => {
      const one = asked.result;
      if (!one) return;
      at.waiting.delete(id);
      at.files.delete(id);
      if (one.lost && one.kind !== "strike") put(at, strikeOf(one));
    };
  }

  function strikeOf(one) {
    const offset = one.fields.find(([name]) => name === "offset");
    const fields = [["kind", "strike"], ["target", one.id], ["scope", "all"], ["reason", "Taken back on the phone"],
      ["happened_at", new Date().toISOString()], offset];
    const { person, path, page, pot } = one;
    return { id: freshId(), kind: "strike", fields, person, path, page, pot, at: Date.now(), tries: 0, lost: 0, say: `Taken back: ${one.say}` };
  }

  /* Without room on the phone there is still the network: it goes from here, and nobody says that it is kept. */
  async function straightAway(one, each) {
    try {
      const { status, said } = await sender.post(one, each ? [await packed(each)] : []);
      return status < 300 && said?.id === one.id;
    } catch {
      return false;
    }
  }

  function noRoom(form, left, kept) {
    for (const input of form.querySelectorAll("input[type=file]")) {
      const still = new DataTransfer();
      for (const { each } of left) if (each?.name === input.name) still.items.add(each.file);
      input.files = still.files;
    }
    const full = left.some(({ problem }) => phone.isFull(problem));
    const rest = left[0].each ? `${left.length} of ${left.length + kept} ${left.length === 1 ? "is" : "are"} not kept yet` : "This is not kept yet";
    say(`${full ? "There is no room left on this phone" : "This phone could not keep it"}, and the studio does not answer. ${rest}: `
      + "leave this page open, make room or go where the network is, and press the button again.");
    announce();
  }

  /* --- how a waiting one is said */
  function sayOf(form, button) {
    const given = button?.dataset.say || form.dataset.say;
    const note = form.elements.note?.value?.trim();
    if (given) return note ? `${given}: ${note.length > 80 ? `${note.slice(0, 79)}…` : note}` : given;
    const words = [pages.main().querySelector("h1")?.textContent.trim(), button?.name ? button.textContent.trim() : ""];
    for (const field of form.querySelectorAll("input:checked, input[type=text], textarea")) {
      if (field.closest(".hidden, details:not([open])") || !field.value.trim()) continue;
      const after = field.nextElementSibling;
      const unit = after?.matches(".unit") ? after.textContent : after?.selectedOptions?.[0]?.textContent ?? "";
      words.push(field.checked ? field.closest("label")?.textContent.trim() : `${field.value.trim().slice(0, 60)} ${unit}`.trim());
    }
    return words.filter(Boolean).join(", ").replace(/\s+/g, " ");
  }

  const mineIn = (all) => all.filter((one) => one.person === pages.whose()).sort((a, b) => a.seq - b.seq);

  async function nothingWaits() {
    return !mineIn(await phone.all("waiting")).some((one) => !one.problem);
  }

  function say(words) {
    document.dispatchEvent(new CustomEvent("clearbath:say", { detail: words }));
  }

  /* Something is kept, sent, refused or gone: here and on the other open pages. */
  function announce() {
    document.dispatchEvent(new Event("clearbath:kept"));
    channel?.postMessage("kept");
  }
  channel?.addEventListener("message", () => document.dispatchEvent(new Event("clearbath:kept")));

  async function takeBack(id) {
    await phone.use(["waiting", "files", "small"], "readwrite", (at) => { give(at, id); });
    announce();
    sender.flush();
  }

  return { takeBack, mineIn, announce, isBusy: () => busy > 0 };
})();
