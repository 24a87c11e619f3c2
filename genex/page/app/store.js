// What the student has set, and what is kept: in the browser's storage, or in memory where it is
// forbidden or full. Nothing is sent anywhere.

/** @typedef {{percent: number, key: number, from: number, to: number, count: number, click: boolean,
 *  swing: number, label: string, left: boolean, volume: number, minus: boolean,
 *  levels: Record<string, number>, muted: Record<string, boolean>, solo: Record<string, boolean>,
 *  cover: boolean, order: string, announce: boolean, shortcuts: boolean, line: string, view: string,
 *  ladder: {on: boolean, start: number, end: number, step: number, passes: number, clean: boolean}}} State */

export class Shelf {
  /** @param {() => Storage} open throws where storage is forbidden @param {string} prefix */
  constructor(open, prefix) {
    this.prefix = prefix;
    /** @type {Map<string, string>} */
    this.memory = new Map();
    this.isKept = true;
    try {
      this.storage = open();
      const probe = `${prefix}probe`;
      this.storage.setItem(probe, "1");
      this.storage.removeItem(probe);
    } catch {
      this.storage = null;
      this.isKept = false;
    }
  }

  /** @template T @param {string} name @param {T} otherwise @returns {T} */
  read(name, otherwise) {
    try {
      const text = this.storage ? this.storage.getItem(this.prefix + name) : this.memory.get(name);
      return text ? JSON.parse(text) : otherwise;
    } catch {
      return otherwise;
    }
  }

  /** @param {string} name @param {any} value */
  write(name, value) {
    const text = JSON.stringify(value);
    this.memory.set(name, text);
    try {
      this.storage?.setItem(this.prefix + name, text);
    } catch {
      this.isKept = false;
    }
  }
}

/** @template {object} T */
export class Store {
  /** @param {T} values @param {(values: T) => void} [keep] */
  constructor(values, keep = () => {}) {
    this.values = values;
    this.keep = keep;
    /** @type {((values: T, changed: Set<keyof T>) => void)[]} */
    this.listeners = [];
  }

  /** @param {Partial<T>} change */
  set(change) {
    const changed = /** @type {Set<keyof T>} */ (new Set());
    for (const key of /** @type {(keyof T)[]} */ (Object.keys(change))) {
      if (this.values[key] !== change[key]) changed.add(key);
    }
    if (!changed.size) return;
    this.values = { ...this.values, ...change };
    this.keep(this.values);
    for (const listener of this.listeners) listener(this.values, changed);
  }

  /** @param {(values: T, changed: Set<keyof T>) => void} listener */
  listen(listener) {
    this.listeners.push(listener);
  }
}

/** A value of the right kind, or the usual one: what storage holds may be old or edited.
 * @template {object} T @param {T} usual @param {any} kept @returns {T} */
export function mended(usual, kept) {
  if (!kept || typeof kept !== "object") return usual;
  const found = { ...usual };
  for (const key of /** @type {(keyof T)[]} */ (Object.keys(usual))) {
    const value = kept[key];
    if (typeof value !== typeof usual[key] || value === null) continue;
    if (typeof value === "number" && !Number.isFinite(value)) continue;
    found[key] = value;
  }
  return found;
}
