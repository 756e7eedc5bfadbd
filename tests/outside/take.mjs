// Your take in the band's page: node tests/outside/take.mjs PROGRAM FOLDER, where FOLDER has playwright-core under
// node_modules. A microphone that hears the band itself, so much late, is measured, recorded and reviewed; recordings are
// reviewed in the page as the program does it. Needs chromium; without it says so.

import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { browsers, failures, hold } from "./browser.mjs";

const [program, folder] = process.argv.slice(2);
const browser = browsers(folder, "a take in the band's page");
const place = mkdtempSync(join(tmpdir(), "openchair-take-"));
const run = (...words) => {
  const done = spawnSync(program, words, { maxBuffer: 1 << 30, env: { ...process.env, XDG_DATA_HOME: place } });
  if (done.status !== 0) throw new Error(`${words.join(" ")}: ${done.stderr}`);
  return done.stdout;
};
const file = join(place, "band.html");
run("page", "-o", file);
const open = async (from, scripts = []) => {
  const page = await from.newPage({ viewport: { width: 1280, height: 900 } });
  page.on("pageerror", (error) => hold("a script broke off", false, error.message));
  page.on("request", (request) => {
    if (!/^(file|blob|data):/.test(request.url())) hold("something was fetched", false, request.url());
  });
  for (const [script, value] of scripts) await page.addInitScript(script, value);
  await page.goto(`file://${file}`);
  await ready(page);
  return page;
};
const ready = (page) => page.waitForFunction(() => !document.getElementById("go").disabled && window.openchair.band.last, null, { timeout: 90000 });
const take = async (page, title) => {
  await page.evaluate(() => { window.openchair.band.last = null; });
  await page.selectOption("#song", { label: title });
  await ready(page);
};
const act = (page, words) => page.evaluate((words) => window.openchair.band.act(words), words);
const until = (page, what, wanted) => page.waitForFunction(
  ([what, wanted]) => JSON.stringify(window.openchair.band.last?.[what]) === JSON.stringify(wanted),
  [what, wanted], { timeout: 60000 },
);
const shown = (page, id) => page.evaluate((id) => document.getElementById(id).innerText, id);
const plain = (text) => text.replace(/\s+/g, " ").trim();
/** The review, whole, as the engine gave it. */
const reviewed = (page) => page.waitForFunction(() => !document.getElementById("review-view").hidden && window.openchair.taker.busy === "", null, { timeout: 300000 })
  .then(() => page.evaluate(() => window.openchair.taker.advice));

// Five recordings, each of a banjo alone that plays with the band's style: another song, key, speed, open chair, and a
// microphone wired the wrong way round.
const TAKES = [
  { song: "lantern-on-the-landing", title: "Lantern on the Landing", options: [] },
  { song: "lantern-on-the-landing", title: "Lantern on the Landing", options: ["--speed", "80"], acts: ["speed 80"] },
  { song: "one-plank-short", title: "One Plank Short", options: ["--key", "D"], acts: ["key D"] },
  { song: "lantern-on-the-landing", title: "Lantern on the Landing", options: [], open: ["--sit-out", "chop"], acts: ["chop"] },
  { song: "cradle-at-the-lock-house", title: "Cradle at the Lock-House", options: [], against: true },
];
/** The first so many seconds of a WAV. @param {Buffer} wave @param {number} seconds */
const cut = (wave, seconds) => {
  const data = wave.indexOf("data") + 8;
  const short = Buffer.from(wave.subarray(0, data + Math.min(wave.length - data, seconds * 48000 * 4)));
  short.writeUInt32LE(short.length - 8, 4);
  short.writeUInt32LE(short.length - data, data - 4);
  return short;
};
/** A WAV whose right side is the left one turned over, and louder. @param {Buffer} wave */
const against = (wave) => {
  const turned = Buffer.from(wave);
  const data = wave.indexOf("data") + 8;
  for (let at = data; at + 3 < wave.length; at += 4) {
    const left = wave.readInt16LE(at);
    turned.writeInt16LE(Math.max(-32768, Math.min(32767, Math.round(-0.9 * left))), at + 2);
  }
  return turned;
};
{
  const chromium = await browser();
  const page = await open(chromium);
  for (const { song, title, options, open: chairs = [], acts = [], against: wired = false } of TAKES) {
    const recording = join(place, "recording.wav");
    const wave = cut(run("export", song, ...options, "--band", "banjo", "-o", "-", "--format", "wav"), 60);
    writeFileSync(recording, wired ? against(wave) : wave);
    const told = plain(String(run("review", song, recording, ...options, ...chairs, "--no-log")));
    await take(page, title);
    for (const words of acts) await act(page, words);
    await page.waitForTimeout(1500);
    await page.evaluate(() => { document.getElementById("review-view").hidden = true; });
    await page.setInputFiles("#recording", recording);
    const review = await reviewed(page);
    const same = plain(review.text) === told;
    hold(`the review of ${song} ${[...options, ...chairs].join(" ")}${wired ? " wired the wrong way round" : ""} is the program's`, same, same ? `${told.length} letters` : `\n${review.text}\n--- the program:\n${told}`);
    const seen = plain(await shown(page, "review")).toLowerCase();
    const words = plain(review.text).toLowerCase();
    hold("and all of it is shown", seen.replace(/\s/g, "") === words.replace(/\s/g, ""));
  }
  // What is kept over days.
  await page.evaluate(() => { document.getElementById("days").open = true; });
  await page.waitForFunction(() => document.getElementById("takes").textContent.includes("Lantern"), null, { timeout: 20000 });
  const [download] = await Promise.all([page.waitForEvent("download"), page.click("#save-takes")]);
  const kept = await download.path();
  const told = plain(String(run("progress", "--takes", kept)));
  hold("takes over days are in the page as in the program", plain(await shown(page, "takes")) === told, told.slice(0, 120));
  hold("five takes were kept", readFileSync(kept, "utf8").trim().split("\n").length === TAKES.length);
  await page.close();
  await chromium.close();
}

// A microphone that hears what the page plays, so many milliseconds late: what is measured is that, and the band's own
// banjo, recorded so, is on the band's beat.
{
  const LATE = 120;
  const chromium = await browser();
  const page = await open(chromium, [[(late) => {
    const Plain = window.AudioContext;
    window.AudioContext = class extends Plain {
      constructor(options) {
        super({ ...options, sampleRate: 48000 });
        this.loop = new DelayNode(this, { delayTime: late / 1000, maxDelayTime: 1 });
        this.room = this.createMediaStreamDestination();
        this.loop.connect(this.room);
        window.room = this.room;
      }
    };
    const connect = AudioNode.prototype.connect;
    AudioNode.prototype.connect = function (to, ...more) {
      if (to instanceof AudioDestinationNode && to.context.loop) connect.call(this, to.context.loop);
      return connect.call(this, to, ...more);
    };
    window.askedOf = null;
    navigator.mediaDevices.getUserMedia = async (asked) => {
      window.askedOf = asked.audio;
      return window.room.stream.clone();
    };
  }, LATE]]);
  await page.click("#measure");
  await page.waitForFunction(() => window.openchair.taker.busy === "" && /late|clicks/.test(document.getElementById("take-said").textContent), null, { timeout: 60000 });
  const said = await shown(page, "take-said");
  const measured = Number.parseFloat(/([\d.]+) ms late/.exec(said)?.[1] ?? "NaN");
  // A stream of its own adds some of the browser's blocks to what was put in.
  hold("the delay of a loop-back is measured", measured >= LATE - 5 && measured < LATE + 150, said);
  const { echoCancellation, noiseSuppression, autoGainControl } = await page.evaluate(() => window.askedOf);
  hold("nothing is asked to be done to the sound", [echoCancellation, noiseSuppression, autoGainControl].every((it) => it === false));

  await take(page, "Lantern on the Landing");
  await page.selectOption("#banjo-level", "full");
  await until(page, "banjoLevel", "full");
  for (const role of ["bass", "chop", "guitar"]) await act(page, `volume ${role} 0`);
  await act(page, "loop 1-8");
  // By keyboard alone, from the first key to the review.
  await page.evaluate(() => document.activeElement?.blur());
  await page.keyboard.press("e");
  await until(page, "standing", "play");
  await page.waitForTimeout(40000);
  hold("it is heard", (await shown(page, "level-said")) !== "" && (await shown(page, "record")) === "Stop and review");
  const [line, missed] = [await shown(page, "noticed"), await shown(page, "missed")];
  hold("a line tells how it goes while it is played", /^heard .+ early [·●│]{11} late$/.test(line.trim()) && missed === "", `${line} ${missed}`);
  await page.keyboard.press("e");
  const review = await reviewed(page);
  hold("the review is where the keyboard is", await page.evaluate(() => document.activeElement?.id === "review-title"));
  console.log(review.text);
  // The browser's stream moves by one of its blocks of 10 ms where a busy machine keeps it waiting.
  hold("what was recorded is reviewed against the band", review.entry.late !== null && Math.abs(review.entry.late) < 12, `${review.entry.late} ms late`);
  hold("nearly all of the banjo is heard", review.entry.strokes > 60, `${review.entry.strokes} strokes`);
  let steps = 0;
  for (; steps < 8 && await page.evaluate(() => document.activeElement?.id !== "follow-advice"); steps += 1) await page.keyboard.press("Tab");
  await page.keyboard.press("Enter");
  hold("and leads to what is advised", steps < 8, `${steps} steps`);
  await page.waitForTimeout(500);
  await page.close();
  await chromium.close();
}

// A microphone that is a file: hiss in which nobody plays. The page says so and lives.
{
  const hiss = join(place, "hiss.wav");
  const frames = 48000 * 20;
  const wave = Buffer.alloc(44 + 2 * frames);
  wave.write("RIFF", 0); wave.writeUInt32LE(36 + 2 * frames, 4); wave.write("WAVEfmt ", 8);
  wave.writeUInt32LE(16, 16); wave.writeUInt16LE(1, 20); wave.writeUInt16LE(1, 22); wave.writeUInt32LE(48000, 24);
  wave.writeUInt32LE(96000, 28); wave.writeUInt16LE(2, 32); wave.writeUInt16LE(16, 34); wave.write("data", 36); wave.writeUInt32LE(2 * frames, 40);
  let state = 1;
  for (let at = 0; at < frames; at += 1) {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    wave.writeInt16LE(Math.round((state / 4294967296 - 0.5) * 2000), 44 + 2 * at);
  }
  writeFileSync(hiss, wave);
  const chromium = await browser("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream", `--use-file-for-fake-audio-capture=${hiss}`);
  const page = await open(chromium);
  await take(page, "Lantern on the Landing");
  await page.click("#record");
  await until(page, "standing", "play");
  hold("an unmeasured delay is said", (await shown(page, "take-said")).includes("never measured"));
  await page.waitForTimeout(12000);
  await page.click("#record");
  await page.waitForFunction(() => window.openchair.taker.busy === "", null, { timeout: 120000 });
  const said = await shown(page, "take-said");
  hold("where nothing is heard, it is said why", /no strokes can be heard|nothing was struck/.test(said), said);
  hold("and the band plays on", ["play", "count"].includes(await page.evaluate(() => window.openchair.band.last.standing)));
  await page.close();
  await chromium.close();
}

// No microphone is given.
{
  const chromium = await browser();
  const page = await open(chromium, [[() => {
    navigator.mediaDevices.getUserMedia = async () => { throw new DOMException("no", "NotAllowedError"); };
  }, null]]);
  await page.click("#record");
  await page.waitForFunction(() => document.getElementById("take-said").textContent.includes("does not let this page"), null, { timeout: 20000 });
  hold("a microphone that is refused is said", true);
  await page.close();
  await chromium.close();
}

rmSync(place, { recursive: true });
console.log(failures.length === 0 ? "takes are well" : `${failures.length} wrong`);
process.exit(failures.length === 0 ? 0 : 1);
