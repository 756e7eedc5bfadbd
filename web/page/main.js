// The page: songs to choose, controls, and what is shown of the band.
import { Band, Listener, held } from "./band.js";
import { markChart, showChart, stopAtEach } from "./chart.js";
import { Diary } from "./diary.js";
import { save } from "./drawer.js";
import { Editor } from "./editor.js";
import { listen, takeKeys } from "./keys.js";
import { showLesson } from "./lesson.js";
import { Midi } from "./midi.js";
import { neckButton, showNeck, takeNeck } from "./neck.js";
import { practise, showChanges } from "./practise.js";
import { made, part, showStand, write } from "./stand.js";
import { showTab, takeTab } from "./tab.js";
import { Taker } from "./take.js";

/** @type {{songs: {name: string, title: string, song: string, styles: Record<string, string>, wish: Record<string, unknown>, practise?: any}[]}} */
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
/** What is practised over and above what the song's text says: of a lesson, a change that is drilled, a climb. @type {object} */
let more = {};
/** True if the band is to begin as soon as it has taken up what is loaded. */
let begins = false;
/** Bars of the song's form. */
let wholeBars = 1;
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
    // A line's end is the writer's margin; an empty line is a new thought.
    write("notes", (next.notes ?? "").trim().replace(/([^\n])\n(?!\n)/g, "$1 "));
    fill("key", next.keys, next.key);
    fill("tab-level", ["off", ...next.levels], next.level ?? "full");
    fill("banjo-level", ["off", ...next.levels], next.level ?? "off");
    part("speed").value = next.speed;
    chairs();
    const keys = [...next.keysFor, ...OWN];
    takeKeys(keys);
    showChanges(next.changes);
    midi.takeActions(keys);
    part("go").disabled = false;
    const { level } = chosen()?.practise ?? {};
    if (level) band.act(`tab ${level}`);
    if (begins) band.act("start");
    begins = false;
    if (next.remarks.length > 0) say(next.remarks.join(" · "));
  }

  view(/** @type {any} */ next) {
    view = next;
    if (!("change" in more)) wholeBars = next.lastBar;
    showStand(next);
    markChart(next, marking || next.mark);
    showTab(next);
    showNeck(next);
    controls(next);
    if (next.standing === "end") taker.ended();
  }

  chart(/** @type {any} */ chart) {
    showChart(chart, touched);
    if (view) markChart(view, marking || view.mark);
  }

  tab(/** @type {any} */ tab) {
    takeTab(tab);
    takeNeck(tab);
    if (view) showTab(view);
    if (view) showNeck(view);
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

  progress(/** @type {string} */ words) {
    diary.said(words);
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

/** What the page alone does by a key or a pedal, beside what the band does. A letter that none of the band's keys has. */
const OWN = [{ keys: ["e"], word: "record", says: "record yourself; again: stop and review" }];

/** What a key or a pedal asks for. @param {string} words */
const asked = (words) => (words === "record" ? taker.press() : act(words));

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
  stopAtEach(on);
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

/** Takes up a text. @param {string} text */
const takeUp = (text) => {
  part("go").disabled = true;
  mark(false);
  taker.ended();
  band.load({ countIn: Number(part("bars").value), ...asWritten(text), ...more });
};

const load = () => {
  more = {};
  takeUp(editor.text());
};

/** Takes up what is to be practised, and begins. @param {object} what */
const begin = (what) => {
  more = what;
  begins = true;
  takeUp(editor.text());
};

/** The text that is there, as the band plays it now: what is as it was taken up is not asked for. */
const asPlayed = () => {
  const { wantedSpeed: speed, banjoLevel: level, chairs: all } = view;
  const lineUp = all.map((/** @type {any} */ chair) => chair.role);
  const sitOut = all.filter((/** @type {any} */ chair) => chair.open).map((/** @type {any} */ chair) => chair.role);
  const own = facts.roles.filter((/** @type {any} */ role) => role.inBand).map((/** @type {any} */ role) => role.role);
  const band = own.every((/** @type {string} */ role) => lineUp.includes(role)) && own.length === lineUp.length ? {} : { band: lineUp };
  const key = view.key === facts.key ? {} : { key: view.key };
  return { ...asWritten(editor.text()), ...more, ...key, ...band, speed: Number(speed.toFixed(3)), level, sitOut };
};

const editor = new Editor((text) => band.check(asWritten(text)), load);

const open = () => {
  const song = chosen();
  if (!song) return;
  editor.open(song.name, song.song);
  // A text that was left with mistakes does not keep the song from being played.
  if (editor.text() !== song.song) band.check(asWritten(editor.text()));
  more = {};
  takeUp(song.song);
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
showLesson(book.songs, (index, what) => {
  part("song").value = String(index);
  const song = chosen();
  editor.open(song.name, song.song);
  begin(what);
  part("stand").scrollIntoView({ block: "start" });
});
neckButton();
practise(begin, () => {
  // A drill goes round by itself: what climbs is the song then.
  const [from, to] = (!("change" in more) && view.loop) || [1, wholeBars];
  return `${from}-${to}`;
});
part("song").addEventListener("change", open);
part("save-midi").addEventListener("click", () => {
  band.midi(asPlayed());
});
/** @param {string} what @param {string} ending @param {string} kind */
const saver = (what, ending, kind) => {
  const button = part(`save-${what}`);
  button.addEventListener("click", async () => {
    if (button.getAttribute("aria-disabled") === "true") return;
    button.setAttribute("aria-disabled", "true");
    say("Making the file…");
    try {
      save(`${editor.name}${ending}`, await band.made({ [what]: asPlayed() }), kind);
      say("The file is made.");
    } catch (why) {
      say(String(/** @type {any} */ (why).message ?? why));
    }
    button.setAttribute("aria-disabled", "false");
  });
};
saver("wav", ".wav", "audio/wav");
saver("chart", "-chart.html", "text/html");
const midi = new Midi(band, (words) => (words === "pause" ? go() : asked(words)));
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
listen(asked, go);

const diary = new Diary((lines) => band.progress(lines));
const taker = new Taker(band, {
  song: () => editor.name,
  wish: asPlayed,
  act,
  begin: () => {
    const plays = view && (view.standing === "play" || view.standing === "count");
    // Without a count-in nobody knows when to begin.
    if (!plays) act(`start ${Math.max(1, Number(part("bars").value))}`);
  },
  quiet: () => {
    if (view && (view.standing === "play" || view.standing === "count")) act("pause");
  },
  reviewed: (entry) => diary.add(entry),
});

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
/** Where the sound is made hardly in time, milliseconds from one look at what is heard to the next: a browser that is asked
 * for every frame draws every frame, which takes a quarter of what a slow device has. */
const SELDOM = 66;
const next = () => requestAnimationFrame(frame);
const frame = (/** @type {number} */ now) => {
  if (band.sound.running) band.look();
  const plays = view && (view.standing === "play" || view.standing === "count");
  light(Boolean(plays));
  if (plays || !band.sound.running || taker.busy !== "") pausedAt = now;
  else if (now - pausedAt > AWAKE) band.sound.stop();
  if (saidAt > 0 && now - saidAt > SAID) {
    write("said", "");
    saidAt = 0;
  }
  if (band.slow) setTimeout(next, SELDOM);
  else next();
};
next();
band.ready().then(open, (why) => wrong(`The band can't play in this browser: ${why}`));

/** For whoever tests the page. */
Object.assign(window, { openchair: { band, book, taker } });
