// The chart: bars to play from, a loop drawn over them, the bar that sounds.

import { el } from "#dom";
import { say } from "#words";

/** @typedef {import("#types").Bar} Bar */
/** @typedef {import("#main").Scene} Scene */

export class Chart {
  /** @param {{jump: (bar: number) => void, loop: (first: number, last: number) => void}} actions */
  constructor(actions) {
    this.actions = actions;
    this.node = el("div", { class: "chart", role: "group", "aria-label": say("chart") });
    /** @type {HTMLButtonElement[]} */
    this.buttons = [];
    /** @type {Bar[]} */
    this.bars = [];
    this.now = -1;
    this.focus = 0;
    /** @type {number | null} */
    this.anchor = null;
    this.dragged = false;
    this.node.addEventListener("keydown", (event) => this.pressed(event));
    this.node.addEventListener("pointerdown", (event) => this.grab(event));
    this.node.addEventListener("pointermove", (event) => this.drag(event));
    this.node.addEventListener("pointercancel", () => (this.anchor = null));
  }

  /** @param {Scene} scene */
  show({ setting, key, from, to }) {
    const names = key.chords;
    if (this.bars !== setting.bars || this.key !== key) {
      this.bars = setting.bars;
      this.key = key;
      this.now = -1;
      this.buttons = [];
      this.node.replaceChildren(...this.rows(names));
    }
    this.buttons.forEach((button, index) => {
      const bar = this.bars[index];
      const inside = bar.at >= from && bar.at < to;
      button.classList.toggle("looped", inside && !(from === 0 && to === setting.length));
      button.setAttribute("aria-pressed", String(inside));
      button.tabIndex = index === this.focus ? 0 : -1;
    });
  }

  /** @param {string[]} names */
  rows(names) {
    /** @type {HTMLElement[]} */
    const found = [];
    let row = el("div", { class: "bars" });
    const many = new Set(this.bars.map((bar) => bar.chorus)).size > 1;
    const sign = this.bars.flatMap(({ chords }) => chords).find(({ pushed }) => pushed)?.pushed;
    if (sign) found.push(el("p", { class: "section" }, say("pushed_help", sign)));
    let before = /** @type {Bar | null} */ (null);
    this.bars.forEach((bar, index) => {
      const begins = !before || before.section !== bar.section || bar.form <= before.form;
      if (begins) {
        const chorus = many && bar.form === 1 ? say("chorus", bar.chorus) : "";
        const text = [chorus, bar.section].filter(Boolean).join(" · ");
        if (text) found.push(el("p", { class: "section" }, text));
        row = el("div", { class: "bars" });
        found.push(row);
      }
      before = bar;
      const told = bar.chords.map(({ chord, pushed }) => {
        const name = chordText(chord, names);
        return pushed ? say("chord_pushed", name) : name;
      });
      const label = [bar.before, told.join(", ") || say("bar_empty"), bar.behind].filter(Boolean).join(", ");
      const button = el(
        "button",
        { type: "button", class: "bar", "data-bar": index, "aria-label": say("bar_label", bar.number, label) },
        el("span", { class: "number" }, String(bar.number)),
        ...(bar.before ? [el("span", { class: "sign" }, bar.before)] : []),
        ...bar.chords.map(({ chord, pushed }) => el("span", { class: "chord" }, chordText(chord, names, pushed))),
        ...(bar.behind ? [el("span", { class: "sign behind" }, bar.behind)] : []),
      );
      button.addEventListener("click", () => this.click(index));
      this.buttons.push(button);
      row.append(button);
    });
    return found;
  }

  /** @param {number} index */
  click(index) {
    if (this.dragged) {
      this.dragged = false;
      return;
    }
    this.focusOn(index, false);
    this.actions.jump(this.bars[index].number);
  }

  /** @param {number} index @param {boolean} [really] */
  focusOn(index, really = true) {
    const last = this.buttons.length - 1;
    const next = Math.min(last, Math.max(0, index));
    this.buttons[this.focus]?.setAttribute("tabindex", "-1");
    this.focus = next;
    this.buttons[next]?.setAttribute("tabindex", "0");
    if (really) this.buttons[next]?.focus();
  }

  /** @param {KeyboardEvent} event */
  pressed(event) {
    const columns = this.columns();
    /** @type {Record<string, number>} */
    const steps = { ArrowRight: 1, ArrowLeft: -1, ArrowDown: columns, ArrowUp: -columns };
    const step = steps[event.key];
    const target = step ? this.focus + step : event.key === "Home" ? 0 : event.key === "End" ? this.bars.length : null;
    if (target === null) return;
    event.preventDefault();
    if (event.shiftKey) {
      this.anchor ??= this.focus;
      this.focusOn(target);
      this.actions.loop(this.bars[this.anchor].number, this.bars[this.focus].number);
    } else {
      this.anchor = null;
      this.focusOn(target);
    }
  }

  columns() {
    const row = this.buttons[this.focus]?.parentElement;
    return row ? getComputedStyle(row).gridTemplateColumns.split(" ").length : 4;
  }

  /** @param {PointerEvent} event */
  barAt(event) {
    const hit = document.elementFromPoint(event.clientX, event.clientY)?.closest("[data-bar]");
    return hit instanceof HTMLElement && this.node.contains(hit) ? Number(hit.dataset.bar) : null;
  }

  /** @param {PointerEvent} event */
  grab(event) {
    this.dragged = false;
    this.anchor = this.barAt(event);
    const end = () => {
      this.anchor = null;
      removeEventListener("pointerup", end);
    };
    addEventListener("pointerup", end);
  }

  /** @param {PointerEvent} event */
  drag(event) {
    if (this.anchor === null || !event.buttons) return;
    const index = this.barAt(event);
    if (index === null || (index === this.anchor && !this.dragged)) return;
    this.dragged = true;
    this.actions.loop(this.bars[this.anchor].number, this.bars[index].number);
  }

  /** @param {number} tick */
  at(tick) {
    let now = -1;
    if (tick >= 0) now = this.bars.findLastIndex((bar) => bar.at <= tick);
    if (now === this.now) return false;
    this.buttons[this.now]?.removeAttribute("aria-current");
    this.now = now;
    const button = this.buttons[now];
    if (!button) return false;
    button.setAttribute("aria-current", "true");
    follow(this.node, button);
    return true;
  }
}

/** A chord as the chart writes it; -1 where there is none. @param {number} chord @param {string[]} names
 * @param {string} [pushed] the sign before a chord that is pushed */
export function chordText(chord, names, pushed = "") {
  return `${pushed}${chord < 0 ? "N.C." : names[chord]}`;
}

/** Scroll a box, and only it, so far that something in it can be seen.
 * @param {HTMLElement} box @param {Element} inside */
export function follow(box, inside) {
  const [outer, inner] = [box.getBoundingClientRect(), inside.getBoundingClientRect()];
  const tall = box.scrollHeight > box.clientHeight && (inner.top < outer.top || inner.bottom > outer.bottom);
  const wide = box.scrollWidth > box.clientWidth && (inner.left < outer.left || inner.left > outer.right - 40);
  if (!tall && !wide) return;
  const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
  box.scrollTo({
    top: box.scrollTop + (tall ? inner.top - outer.top - 12 : 0),
    left: box.scrollLeft + (wide ? inner.left - outer.left - 30 : 0),
    behavior: still ? "auto" : "smooth",
  });
}
