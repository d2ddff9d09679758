/* What this phone keeps: things that wait to be sent, and pages as the studio drew them, for each person apart.
   Read by pages and by the worker. Every call opens the store anew, as phones drop handles while a page sleeps. */
"use strict";

const phone = (() => {
  const NAME = "clearbath", VERSION = 1;

  function open() {
    return new Promise((resolve, reject) => {
      const asked = indexedDB.open(NAME, VERSION);
      asked.onupgradeneeded = () => {
        const store = asked.result;
        store.createObjectStore("waiting", { keyPath: "id" });
        store.createObjectStore("files", { keyPath: "id" });
        store.createObjectStore("pages", { keyPath: ["person", "path"] });
        store.createObjectStore("small");
      };
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error);
      asked.onblocked = () => reject(new Error("The store of this phone is in use by an older page."));
    });
  }

  /* work(stores by name) asks its questions and returns a function for the answer; it is called when all is on the disk. */
  async function once(names, mode, work) {
    const store = await open();
    try {
      return await new Promise((resolve, reject) => {
        const going = store.transaction(names, mode, { durability: "strict" });
        const answer = work(Object.fromEntries(names.map((name) => [name, going.objectStore(name)])));
        going.oncomplete = () => resolve(answer?.());
        going.onabort = () => reject(going.error ?? new Error("This phone kept nothing."));
      });
    } finally {
      store.close();
    }
  }

  async function use(names, mode, work) {
    try {
      return await once(names, mode, work);
    } catch (problem) {
      if (isFull(problem)) throw problem;
      return once(names, mode, work); // the handle was lost: once more, on a fresh one
    }
  }

  function isFull(problem) {
    return problem?.name === "QuotaExceededError";
  }

  const result = (asked) => () => asked.result;

  return {
    use,
    isFull,
    all: (name) => use([name], "readonly", (at) => result(at[name].getAll())),
    get: (name, key) => use([name], "readonly", (at) => result(at[name].get(key))),
    put: (name, value, key) => use([name], "readwrite", (at) => { at[name].put(value, key); }),
    remove: (name, key) => use([name], "readwrite", (at) => { at[name].delete(key); }),

    /* The pages of everybody but this person go; what waits to be sent stays, whoever it is of. */
    forget: (person = null, view = person) => use(["pages", "small"], "readwrite", (at) => {
      const asked = at.pages.openCursor();
      asked.onsuccess = () => {
        const page = asked.result;
        if (!page) return;
        if (page.value.person !== view) page.delete();
        page.continue();
      };
      at.small.delete(IDBKeyRange.bound("kit ", "kit!")); // their versions go with them
      if (person) at.small.put([person, view], "person");
      else at.small.delete("person");
    }),
  };
})();
