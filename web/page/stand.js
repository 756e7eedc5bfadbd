// The stand: what a player reads from two metres away.

/**
 * The element of that name.
 * @param {string} id
 * @returns {any}
 */
export const part = (id) => document.getElementById(id);

/**
 * Writes words where they differ: what is unchanged is not touched, so that nothing is read out twice.
 * @param {string} id
 * @param {string} words
 */
export const write = (id, words) => {
  const element = part(id);
  if (element.textContent !== words) element.textContent = words;
};

/**
 * A new element with words in it.
 * @param {string} kind
 * @param {string} [words]
 * @param {string} [look]
 */
export const made = (kind, words = "", look = "") => {
  const element = document.createElement(kind);
  element.textContent = words;
  if (look) element.className = look;
  return element;
};

/** @param {any} view @returns {string} */
const chordNow = (view) => view.now.chord ?? (view.now.end ? "end" : String(view.now.count));

/** @param {any} view @returns {string} */
const when = (view) => {
  if (view.standing === "end") return "";
  if (view.next === null) return "stays";
  return view.beats === 1 ? "next beat" : `in ${view.beats} beats`;
};

/** @param {number} bars */
const inBars = (bars) => (bars === 1 ? "next bar" : `in ${bars} bars`);

/**
 * A chord's letters may be as large as there is room for: the more there are, the smaller.
 * @param {string} id
 * @param {string} words
 */
const writeLarge = (id, words) => {
  write(id, words);
  part(id).style.setProperty("--letters", String(Math.max(2, words.length)));
};

/**
 * Shows how the band stands.
 * @param {any} view
 */
export const showStand = (view) => {
  const now = chordNow(view);
  writeLarge("now", now);
  part("now").setAttribute("aria-label", view.now.count ? `count ${now}` : `chord ${now}`);
  writeLarge("next", view.next ?? "");
  write("when", when(view));
  const banjo = view.banjo;
  const shapes = banjo ? [banjo.now, banjo.next].filter(Boolean).join(", then ") : "";
  write("shapes", shapes ? `banjo capo ${banjo.capo}: ${shapes}` : "");
  showBeats(view);
  const task = view.task;
  writeLarge("task", task ? task.now : "");
  write("task-full", task && task.full !== task.now ? task.full : "");
  write("task-next", task?.coming ? `${inBars(task.coming.bars)}: ${task.coming.full}` : "");
  write("singer", view.singer);
  part("singer").classList.toggle("sings", view.sings);
  const pass = view.form[view.pass] ?? "";
  const number = view.bar > 0 ? ` bar ${view.bar}` : "";
  write("section", `${pass}${number}`);
  write("looping", view.looping ?? "");
  write("announced", view.announced ?? "");
  const capo = view.capo ? `, guitar capo ${view.capo}` : "";
  write("facts", `${view.key}${capo} · ${view.tempo} beats a minute · ${view.style}`);
};

/** @param {any} view */
const showBeats = (view) => {
  const row = part("beats");
  while (row.children.length < view.barBeats) row.append(made("span"));
  while (row.children.length > view.barBeats) row.lastChild.remove();
  const at = view.beat ?? (view.now.count ? view.now.count - 1 : -1);
  [...row.children].forEach((dot, index) => dot.classList.toggle("on", index === at));
};
