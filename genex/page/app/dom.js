// Elements, made without markup: all text is set as text.

const SVG = "http://www.w3.org/2000/svg";

/** @typedef {string | Node | null | undefined | false} Child */

/** An element with attributes (functions listen to events) and children.
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} name @param {Record<string, any>} [attributes] @param {...Child} children
 * @returns {HTMLElementTagNameMap[K]} */
export function el(name, attributes = {}, ...children) {
  return fill(document.createElement(name), attributes, children);
}

/** @param {string} name @param {Record<string, any>} [attributes] @param {...Child} children
 * @returns {SVGElement} */
export function draw(name, attributes = {}, ...children) {
  return fill(/** @type {SVGElement} */ (document.createElementNS(SVG, name)), attributes, children);
}

/** @template {Element} E @param {E} node @param {Record<string, any>} attributes @param {Child[]} children
 * @returns {E} */
function fill(node, attributes, children) {
  for (const [key, value] of Object.entries(attributes)) {
    if (typeof value === "function") node.addEventListener(key, value);
    else if (value === true) node.setAttribute(key, "");
    else if (value !== false && value !== null && value !== undefined) node.setAttribute(key, String(value));
  }
  node.append(...children.filter((child) => child !== null && child !== undefined && child !== false));
  return node;
}

let count = 0;

/** A control with its label. @param {string} label @param {HTMLElement} control */
export function labelled(label, control) {
  count += 1;
  control.id ||= `control-${count}`;
  return el("div", { class: "field" }, el("label", { for: control.id }, label), control);
}

/** @param {string} label @param {boolean} checked @param {(on: boolean) => void} change */
export function checkbox(label, checked, change) {
  const box = el("input", { type: "checkbox" });
  box.checked = checked;
  box.addEventListener("change", () => change(box.checked));
  const node = el("label", { class: "check" }, box, el("span", {}, label));
  return { node, box };
}

/** @param {[string, string][]} options value and text @param {string} value
 * @param {(value: string) => void} change */
export function select(options, value, change) {
  const node = el("select", {}, ...options.map(([own, text]) => el("option", { value: own }, text)));
  node.value = value;
  node.addEventListener("change", () => change(node.value));
  return node;
}

/** @param {number} min @param {number} max @param {number} step @param {number} value
 * @param {(value: number) => void} change @param {string} [label] */
export function slider(min, max, step, value, change, label) {
  const node = el("input", { type: "range", min, max, step, "aria-label": label });
  node.value = String(value);
  node.addEventListener("input", () => change(Number(node.value)));
  return node;
}

/** Hand a text or bytes to the browser's own way of saving files. @param {string} name
 * @param {BlobPart} data @param {string} type */
export function save(name, data, type) {
  const address = URL.createObjectURL(new Blob([data], { type }));
  const link = el("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 10000);
}

/** Rows as CSV [published: RFC 4180]; what a table program would take for a formula is quoted by '.
 * @param {(string | number)[][]} rows */
export function csv(rows) {
  const cell = (/** @type {string | number} */ value) => {
    let text = String(value);
    if (/^[=+\-@\t\r]/.test(text) && Number.isNaN(Number(text))) text = `'${text}`;
    return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
  };
  return rows.map((row) => row.map(cell).join(",")).join("\r\n") + "\r\n";
}
