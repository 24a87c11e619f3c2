// Rules of ear training without any picture: which question comes next, what counts as right, the tally.

/** @typedef {import("#types").Question} Question */
/** @typedef {Record<string, {asked: number, right: number, streak: number}>} Tally */

/** What a question asks for, in words: its answer up to the notes. @param {Question} question */
export function item(question) {
  const [head, ...rest] = question.text.split(":");
  return rest.length ? head.trim() : "";
}

/** The answers to choose from: each once, in the order of the alphabet. @param {Question[]} questions */
export function choices(questions) {
  return [...new Set(questions.map(item).filter(Boolean))].sort((a, b) => a.localeCompare(b));
}

/** How likely a question is asked: what was missed, or never asked, comes sooner.
 * @param {Question} question @param {Tally} tally */
export function weight(question, tally) {
  const known = tally[label(question)];
  if (!known || !known.asked) return 3;
  const missed = known.asked - known.right;
  return (1 + 3 * missed) / (1 + known.streak);
}

/** The name under which a question is counted. @param {Question} question */
export function label(question) {
  return item(question) || `${question.number}`;
}

/** The next question. @param {Question[]} questions @param {Question | null} last
 * @param {string} order weighted, random or written @param {Tally} tally @param {() => number} random */
export function nextQuestion(questions, last, order, tally, random) {
  if (order === "written") {
    const index = last ? questions.indexOf(last) : -1;
    return questions[(index + 1) % questions.length];
  }
  const others = questions.length > 1 ? questions.filter((one) => one !== last) : questions;
  const weights = others.map((one) => (order === "weighted" ? weight(one, tally) : 1));
  let left = random() * weights.reduce((sum, one) => sum + one, 0);
  for (let i = 0; i < others.length; i++) {
    left -= weights[i];
    if (left < 0) return others[i];
  }
  return others[others.length - 1];
}

/** A tally with one more answer. @param {Tally} tally @param {string} name @param {boolean} right
 * @returns {Tally} */
export function counted(tally, name, right) {
  const { asked = 0, right: before = 0, streak = 0 } = tally[name] ?? {};
  return { ...tally, [name]: { asked: asked + 1, right: before + Number(right), streak: right ? streak + 1 : 0 } };
}

/** Whether notes chosen on the neck are those of the question, octaves included.
 * @param {number[]} chosen @param {number[]} wanted */
export function played(chosen, wanted) {
  return chosen.length === wanted.length && chosen.every((key, index) => key === wanted[index]);
}
