// Only in a page that `genex build --watch --open` shows: takes what is saved, from this machine alone.

const SLEEP_MS = 1000;

/** @param {string} seen digest of the lesson that is shown */
async function follow(seen) {
  for (;;) {
    try {
      const answer = await fetch(`next?after=${seen}`, { cache: "no-store" });
      if (answer.status === 200) {
        seen = answer.headers.get("x-lesson") ?? seen;
        await /** @type {any} */ (globalThis).page.take(await answer.json());
      } else if (answer.status !== 204) return;
    } catch {
      await new Promise((done) => setTimeout(done, SLEEP_MS));
    }
  }
}

follow(document.documentElement.dataset.lesson ?? "");
