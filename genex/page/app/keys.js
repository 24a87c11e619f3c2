// Single keys as commands, where they are switched on and nothing else wants the key.

import { within } from "#practice";
import { barsOf } from "#practice";
import { views } from "#shapes";

const LABELS = ["degrees", "fingers", "notes"];

/** Whether an element takes typed keys for itself. @param {EventTarget | null} target */
function takesKeys(target) {
  return target instanceof Element && target.closest("input:not([type=checkbox]), select, textarea") !== null;
}

/** @param {any} page the page whose commands the keys give */
export function listenToKeys(page) {
  addEventListener("keydown", (event) => {
    const { store } = page;
    const plain = !event.ctrlKey && !event.altKey && !event.metaKey;
    if (!store.values.shortcuts || !plain || event.defaultPrevented) return;
    const { target } = event;
    const range = target instanceof HTMLInputElement && target.type === "range";
    if (takesKeys(target) && !(range && !event.key.startsWith("Arrow"))) return;
    const onButton = target instanceof Element && target.closest("button, input, summary, a") !== null;
    if (event.key === " " && onButton) return; // the button's own key
    /** @type {Record<string, () => void>} */
    const commands = {
      " ": () => page.toggle(),
      ",": () => store.set({ percent: within(store.values.percent - 5) }),
      ".": () => store.set({ percent: within(store.values.percent + 5) }),
      "[": () => {
        const bar = page.setting.bars.findLast((/** @type {{at: number}} */ one) => one.at <= Math.max(0, page.tick));
        page.loop(bar.number, bar.number);
      },
      "]": () => page.loop(...barsOf(page.setting, 0, page.setting.length)),
      c: () => store.set({ click: !store.values.click }),
      m: () => store.set({ minus: !store.values.minus }),
      h: () => page.clean(),
      l: () => store.set({ label: LABELS[(LABELS.indexOf(store.values.label) + 1) % LABELS.length] }),
      v: () => {
        const all = views(page.lesson.neck);
        store.set({ view: all[(all.indexOf(store.values.view) + 1) % all.length] });
        page.tellView();
      },
    };
    const command = commands[event.key.toLowerCase()];
    if (!command) return;
    event.preventDefault();
    command();
  });
}
