/* Signing out: pages that this phone kept go, and what waits to be sent stays and is told of. */
"use strict";

(() => {
  async function tell() {
    const waiting = (await phone.all("waiting")).length;
    if (!waiting) return;
    for (const form of document.querySelectorAll("form[data-sign-out]")) {
      const words = document.createElement("p");
      words.className = "red";
      words.textContent = waiting === 1 ? "One thing logged on this phone has not reached the studio yet. It stays here, and goes when whoever logged it signs in again."
        : `${waiting} things logged on this phone have not reached the studio yet. They stay here, and go when whoever logged them signs in again.`;
      form.prepend(words);
    }
  }

  document.addEventListener("submit", async (event) => {
    const form = event.target.closest("form[data-sign-out]");
    if (!form) return;
    event.preventDefault();
    await Promise.race([phone.forget().catch(() => {}), new Promise((resolve) => setTimeout(resolve, 1000))]);
    form.submit();
  });

  // Nobody is signed in: nobody's pages are to be seen here.
  if (document.querySelector("[data-signed-out]")) phone.forget().catch(() => {});
  tell().catch(() => {});
})();
