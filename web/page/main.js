// The page: songs to choose, controls, and what is shown of the band.
import { Band, Listener, held } from "./band.js";
import { markChart, showChart } from "./chart.js";
import { Editor, save } from "./editor.js";
import { listen, takeKeys } from "./keys.js";
import { made, part, showStand, write } from "./stand.js";
import { showTab, takeTab } from "./tab.js";

/** @type {{songs: {name: string, title: string, song: string, styles: Record<string, string>, wish: Record<string, unknown>}[]}} */
const book = JSON.parse(held("songs"));

/** How long a paused band keeps the sound device awake, in milliseconds. */
const AWAKE = 4000;
/** How long a word of what was done stays, in milliseconds. */
const SAID = 4000;

/** @type {any} */
let facts = null;
/** @type {any} */
let view = null;
/** The first bar of a loop that is being marked by touch; null where none is, 0 where it is still to come. @type {number | null} */
let marking = null;
let saidAt = 0;
let speedTouched = 0;

const say = (/** @type {string} */ words) => {
  write("said", words);
  saidAt = performance.now();
};

const wrong = (/** @type {string} */ words) => {
  // What was played before is still there.
  part("go").disabled = !facts;
  part("wrong").hidden = false;
  write("wrong", words);
};

class Page extends Listener {
  facts(/** @type {any} */ next) {
    facts = next;
    part("wrong").hidden = true;
    write("title", next.title);
    document.title = `${next.title} – openchair`;
    write("notes", next.notes ?? "");
    fill("key", next.keys, next.key);
    fill("tab-level", ["off", ...next.levels], next.level ?? "full");
    fill("banjo-level", ["off", ...next.levels], next.level ?? "off");
    part("speed").value = next.speed;
    chairs();
    takeKeys(next.keysFor);
    part("go").disabled = false;
    if (next.remarks.length > 0) say(next.remarks.join(" · "));
  }

  view(/** @type {any} */ next) {
    view = next;
    showStand(next);
    markChart(next, marking || next.mark);
    showTab(next);
    controls(next);
  }

  chart(/** @type {any} */ chart) {
    showChart(chart, touched);
    if (view) markChart(view, marking || view.mark);
  }

  tab(/** @type {any} */ tab) {
    takeTab(tab);
    if (view) showTab(view);
  }

  said(/** @type {string} */ words) {
    say(words);
  }

  wrong(/** @type {string} */ words) {
    wrong(words);
  }

  checked(/** @type {string} */ problems) {
    editor.said(problems);
  }

  midi(/** @type {Uint8Array<ArrayBuffer>} */ bytes) {
    save(`${editor.name}.mid`, bytes, "audio/midi");
  }
}

/** @param {string} id @param {string[]} words @param {string} chosen */
const fill = (id, words, chosen) => {
  const select = part(id);
  select.replaceChildren(...words.map((word) => {
    const option = /** @type {HTMLOptionElement} */ (made("option", word));
    option.value = word;
    return option;
  }));
  select.value = chosen;
};

const band = new Band(new Page());
const act = (/** @type {string} */ words) => band.act(words);

/** A touch on a bar of the chart. @param {number} number */
const touched = (number) => {
  if (marking === null) act(`bar ${number}`);
  else if (marking === 0) {
    marking = number;
    write("hint", `From bar ${number}: now touch the last bar.`);
    if (view) markChart(view, marking);
  } else {
    act(`loop ${marking}-${number}`);
    mark(false);
  }
};

/** @param {boolean} on */
const mark = (on) => {
  marking = on ? 0 : null;
  part("marking").setAttribute("aria-pressed", String(on));
  write("hint", on ? "Touch the first bar of the loop." : "Touch a bar to go there.");
  if (view) markChart(view, view.mark);
};

const chairs = () => {
  const there = facts.roles.filter((/** @type {any} */ role) => role.inBand || role.hasPart);
  part("chairs").replaceChildren(...there.map((/** @type {any} */ { role }) => {
    const button = made("button", "", "chair");
    button.id = `chair-${role}`;
    button.append(made("span", role), made("small", ""));
    button.addEventListener("click", () => act(role));
    return button;
  }));
  part("volumes").replaceChildren(...there.map((/** @type {any} */ { role }) => {
    const label = made("label", `${role} `, "pick");
    const slider = /** @type {HTMLInputElement} */ (made("input"));
    Object.assign(slider, { type: "range", min: "0", max: "150", value: "100", id: `volume-${role}` });
    slider.addEventListener("input", () => act(`volume ${role} ${slider.value}`));
    label.append(slider);
    return label;
  }));
};

/** @param {any} next */
const controls = (next) => {
  const plays = next.standing === "play" || next.standing === "count";
  write("go", plays ? "Pause" : "Play");
  part("go").setAttribute("aria-pressed", String(plays));
  document.body.dataset.standing = next.standing;
  const open = new Map(next.chairs.map((/** @type {any} */ chair) => [chair.role, chair.open]));
  for (const { role } of facts?.roles ?? []) {
    const button = part(`chair-${role}`);
    if (!button) continue;
    const filled = role === facts.chair && next.banjoLevel;
    const state = filled ? `plays for you: ${next.banjoLevel}` : !open.has(role) ? "not in the band" : open.get(role) ? "open: yours" : "plays";
    button.setAttribute("aria-pressed", String(state.startsWith("plays")));
    if (button.lastChild.textContent !== state) button.lastChild.textContent = state;
  }
  const loops = Boolean(next.loop);
  part("loop").setAttribute("aria-pressed", String(loops));
  write("loop", loops ? "Stop loop" : "Loop");
  if (performance.now() - speedTouched > 700) {
    part("speed").value = String(Math.round(next.wantedSpeed));
    write("speed-said", `${Math.round(next.wantedSpeed)} %`);
  }
  for (const [id, value] of [["key", next.key], ["tab-level", next.tabLevel ?? "off"], ["banjo-level", next.banjoLevel ?? "off"], ["names", next.chords]]) {
    if (document.activeElement !== part(id)) part(id).value = value;
  }
};

/** The song that is chosen. */
const chosen = () => book.songs[Number(part("song").value)];

/** The text that is there, with nothing wished for but what came with it. @param {string} text */
const asWritten = (text) => {
  const song = chosen();
  return { name: `${song.name}.toml`, song: text, styles: song.styles, ...song.wish };
};

const load = () => {
  part("go").disabled = true;
  mark(false);
  band.load({ ...asWritten(editor.text()), countIn: Number(part("bars").value) });
};

const editor = new Editor((text) => band.check(asWritten(text)), load);

const open = () => {
  const song = chosen();
  if (!song) return;
  editor.open(song.name, song.song);
  // A text that was left with mistakes does not keep the song from being played.
  if (editor.text() !== song.song) band.check(asWritten(editor.text()));
  part("go").disabled = true;
  mark(false);
  band.load({ ...asWritten(song.song), countIn: Number(part("bars").value) });
};

/** @param {number} percent */
const speed = (percent) => {
  const held = Math.min(150, Math.max(25, Math.round(percent)));
  speedTouched = performance.now();
  part("speed").value = String(held);
  write("speed-said", `${held} %`);
  act(`speed ${held}`);
};

const go = () => {
  if (!part("go").disabled) band.go(Number(part("bars").value));
};

book.songs.forEach((song, index) => {
  const option = /** @type {HTMLOptionElement} */ (made("option", song.title));
  option.value = String(index);
  part("song").append(option);
});
part("song-pick").hidden = book.songs.length < 2;
part("song").addEventListener("change", open);
part("save-midi").addEventListener("click", () => {
  const { key, wantedSpeed: speed, banjoLevel: level, chairs: all } = view;
  const lineUp = all.map((/** @type {any} */ chair) => chair.role);
  const sitOut = all.filter((/** @type {any} */ chair) => chair.open).map((/** @type {any} */ chair) => chair.role);
  band.midi({ ...asWritten(editor.text()), key, speed, level, band: lineUp, sitOut });
});
part("go").addEventListener("click", go);
for (const button of document.querySelectorAll("[data-act]")) {
  button.addEventListener("click", () => act(/** @type {HTMLElement} */ (button).dataset.act ?? ""));
}
for (const button of document.querySelectorAll("[data-step]")) {
  const step = Number(/** @type {HTMLElement} */ (button).dataset.step);
  button.addEventListener("click", () => speed(Number(part("speed").value) + step));
}
part("speed").addEventListener("input", () => speed(Number(part("speed").value)));
part("loop").addEventListener("click", () => act("loop-section"));
part("marking").addEventListener("click", () => mark(marking === null));
part("key").addEventListener("change", () => act(`key ${part("key").value}`));
part("tab-level").addEventListener("change", () => act(`tab ${part("tab-level").value}`));
part("banjo-level").addEventListener("change", () => act(`banjo ${part("banjo-level").value}`));
part("rule").addEventListener("change", () => act(`chairs ${part("rule").value}`));
part("names").addEventListener("change", () => act(`chords ${part("names").value}`));
listen(act, go);

/** True if a pointer was used last, not the keyboard. */
let pointed = false;
document.addEventListener("pointerdown", () => { pointed = true; }, true);
document.addEventListener("keydown", () => { pointed = false; }, true);
// What was touched keeps no focus: the space bar plays, whatever was touched last.
for (const kind of ["click", "change"]) {
  document.addEventListener(kind, (event) => {
    const target = /** @type {HTMLElement} */ (event.target).closest("button, select, input");
    if (pointed && target && (kind === "change") === (target.tagName !== "BUTTON")) /** @type {HTMLElement} */ (target).blur();
  });
}

part("only").addEventListener("click", () => {
  const only = document.body.classList.toggle("only");
  part("only").setAttribute("aria-pressed", String(only));
});

/** Keeps the screen lit while the band plays, where the browser can. @type {any} */
let lit = null;
/** @param {boolean} plays */
const light = async (plays) => {
  const lock = /** @type {any} */ (navigator).wakeLock;
  if (!lock || plays === Boolean(lit)) return;
  if (plays) {
    lit = "asked";
    lit = await lock.request("screen").catch(() => null);
  } else {
    lit.release?.();
    lit = null;
  }
};

let pausedAt = 0;
const frame = (/** @type {number} */ now) => {
  if (band.sound.running) band.look();
  const plays = view && (view.standing === "play" || view.standing === "count");
  light(Boolean(plays));
  if (plays || !band.sound.running) pausedAt = now;
  else if (now - pausedAt > AWAKE) band.sound.stop();
  if (saidAt > 0 && now - saidAt > SAID) {
    write("said", "");
    saidAt = 0;
  }
  requestAnimationFrame(frame);
};
requestAnimationFrame(frame);
band.ready().then(open, (why) => wrong(`The band can't play in this browser: ${why}`));

/** For whoever tests the page. */
Object.assign(window, { openchair: { band, book } });
