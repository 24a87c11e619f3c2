// What genex wrote into the page, read once. All of it is data: nothing of it is ever executed.

/** @typedef {import("#types").PageData} PageData */
/** @typedef {import("#types").NoteEvent} NoteEvent */
/** @typedef {import("#types").Part} Part */
/** @typedef {import("#types").System} System */

/** @param {Document} document @returns {PageData} */
export function readData(document) {
  const text = document.getElementById("lesson")?.textContent ?? "";
  return expand(JSON.parse(text));
}

/** Rows of numbers become notes. @param {PageData} data */
export function expand(data) {
  for (const lesson of data.lessons) {
    for (const setting of lesson.settings) {
      for (const part of setting.parts) part.notes = part.rows.map(note);
    }
  }
  return data;
}

/** @param {any[]} row @returns {NoteEvent} */
function note(row) {
  const [at, start, length, key, velocity] = row;
  const [string = 0, fret = 0, finger = -1, degree = "", name = -1, written = length] = row.slice(5);
  return {
    at, start, length, key, velocity, string, fret, finger, degree, name, written,
    move: row[11] ?? "", slide: row[12] ?? null, curve: row[13] ?? null, said: row[14] ?? "",
  };
}

/** Unpack engraved music. Rejects where the browser cannot. @param {string} packed
 * @returns {Promise<System[]>} */
export async function unpack(packed) {
  const plain = atob(packed);
  const found = Uint8Array.from(plain, (sign) => sign.charCodeAt(0));
  const stream = new Blob([found]).stream().pipeThrough(new DecompressionStream("gzip"));
  return JSON.parse(await new Response(stream).text());
}
