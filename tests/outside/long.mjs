// The band's page for as long as people practise: node tests/outside/long.mjs PROGRAM FOLDER [MINUTES [LIBRARY...]], where
// FOLDER has playwright-core under node_modules. It plays for the minutes (ten, unless said) on a quarter of a core, with
// hands that turn something every while, and holds that there is no gap in the sound and that memory doesn't grow; before
// that it takes the time of the engine alone, for each LIBRARY as `make web` builds them (the page's own, unless said).
// Needs chromium; without it says so.

import { spawnSync } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, rmSync, rmdirSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { browsers, failures, hold } from "./browser.mjs";
import { engine } from "../../web/engine.mjs";

const [program, folder, minutes = "10", ...libraries] = process.argv.slice(2);
const MINUTES = Number(minutes);
const SONG = "songs/lantern-on-the-landing.toml";
/** Times as fast as it plays that the engine makes its sound at least: what is asked of the page. */
const LEAST_SPEED = 10;
/** Times that the engine is timed: a browser takes a while to compile it well, longer on a busy machine. */
const ROUNDS = 12;
/** How much of a core the slow device has. */
const SLOW = 4;
/** What a page may hold more at the end than after its first minutes, in bytes: an hour's sound would be 1.4 GB. */
const MOST_GROWTH = 24e6;
/** The first minutes, in which a browser fills its caches and compiles what it finds busy. */
const SETTLING = Math.min(3, MINUTES / 2);

const start = browsers(folder, "the band's page for long");
const place = mkdtempSync(join(tmpdir(), "openchair-long-"));
const file = join(place, "band.html");
const done = spawnSync(program, ["page", "-o", file]);
if (done.status !== 0) throw new Error(String(done.stderr));

const browser = await start();

// The engine alone, in a worker as the page has it.
for (const library of libraries.length > 0 ? libraries : ["web/band.wasm.lzma"]) {
  const page = await browser.newPage();
  const times = await page.evaluate(async ({ letters, song, seconds, rounds }) => {
    const script = `onmessage = async ({ data: { letters, song, seconds, rounds } }) => {
      const bytes = Uint8Array.from(atob(letters), (letter) => letter.charCodeAt(0));
      const { instance: { exports: band } } = await WebAssembly.instantiate(bytes, {});
      const call = (does, text) => {
        const bytes = new TextEncoder().encode(text);
        const at = band.asked(bytes.length);
        new Uint8Array(band.memory.buffer, at, bytes.length).set(bytes);
        if (!does()) throw new Error("refused");
      };
      call(() => band.load(48000), JSON.stringify({ name: "song.toml", song, countIn: 0 }));
      call(band.act, "start");
      const times = [];
      for (let round = 0; round < rounds; round += 1) {
        const begun = performance.now();
        for (let frames = 0; frames < seconds * 48000; frames += 512) band.render(512);
        times.push((1000 * seconds) / (performance.now() - begun));
      }
      postMessage(times);
    };`;
    const worker = new Worker(URL.createObjectURL(new Blob([script])));
    const answer = new Promise((well, ill) => { worker.onmessage = ({ data }) => well(data); worker.onerror = (why) => ill(new Error(why.message)); });
    worker.postMessage({ letters, song, seconds, rounds });
    return answer;
  }, { letters: Buffer.from(engine(library)).toString("base64"), song: readFileSync(SONG, "utf8"), seconds: 5, rounds: ROUNDS });
  // The best round: others' work takes time from it, nothing gives it any.
  const best = Math.max(...times);
  hold(`the engine of ${library} is fast enough`, best >= LEAST_SPEED,
    `${best.toFixed(1)} times as fast as it plays (by rounds: ${times.map((time) => time.toFixed(1)).join(" ")})`);
  await page.close();
}

// Slowed down: the page's process has a part of a core, worker and audio thread too. Where the machine gives no such group,
// the browser slows the page's own thread down, which is less.
const GROUP = `/sys/fs/cgroup/cpu/openchair-long-${process.pid}`;
const slowed = (pid) => {
  try {
    mkdirSync(GROUP);
    writeFileSync(join(GROUP, "cpu.cfs_period_us"), "10000");
    writeFileSync(join(GROUP, "cpu.cfs_quota_us"), String(10000 / SLOW));
    writeFileSync(join(GROUP, "cgroup.procs"), String(pid));
    return true;
  } catch {
    return false;
  }
};
const devtools = await browser.newBrowserCDPSession();
const renderers = async () => (await devtools.send("SystemInfo.getProcessInfo")).processInfo
  .filter(({ type }) => type === "renderer").map(({ id }) => id);
/** What a process holds of its own, in bytes. @param {number} pid */
const held = (pid) => 1024 * Number(/^RssAnon:\s*(\d+)/m.exec(readFileSync(`/proc/${pid}/status`, "utf8"))?.[1] ?? NaN);

const before = new Set(await renderers());
const page = await browser.newPage({ viewport: { width: 820, height: 1180 } });
page.on("pageerror", (error) => hold("a script broke off", false, error.message));
await page.goto(`file://${file}`);
await page.waitForFunction(() => !document.getElementById("go").disabled && window.openchair.band.last, null, { timeout: 60000 });
const pid = (await renderers()).filter((id) => !before.has(id)).at(-1);
const inside = await page.context().newCDPSession(page);
if (pid && slowed(pid)) console.log(`figure: the page's process has 1/${SLOW} of a core`);
else {
  await inside.send("Emulation.setCPUThrottlingRate", { rate: SLOW });
  console.log(`figure: the page's own thread is slowed down to 1/${SLOW}`);
}
await inside.send("HeapProfiler.enable");
await page.click("#go");
const state = () => page.evaluate(() => ({
  gaps: window.openchair.band.sound.gaps,
  at: window.openchair.band.sound.context.currentTime,
  standing: window.openchair.band.last?.standing,
}));
const objects = async () => {
  await inside.send("HeapProfiler.collectGarbage");
  return (await inside.send("Runtime.getHeapUsage")).usedSize;
};
// What hands do meanwhile: each is done in a minute of its own.
const hands = ["k", "2", "l", "Backspace", "1"];
await page.waitForTimeout(5000);
const [first, begun] = [await state(), Date.now()];
const measured = [];
for (let minute = 1; minute <= MINUTES; minute += 1) {
  await page.waitForTimeout(begun + minute * 60000 - Date.now());
  await page.keyboard.press(hands[minute % hands.length]);
  const now = await state();
  if (now.standing !== "play" && now.standing !== "count") await page.keyboard.press("Space");
  measured.push({ minute, objects: await objects(), held: pid ? held(pid) : NaN });
  const { objects: small, held: large } = measured.at(-1);
  if (MINUTES <= 12 || minute % 5 === 0) {
    console.log(`figure: after ${minute} minutes ${now.gaps} gaps, ${(small / 1e6).toFixed(1)} MB of objects, ${(large / 1e6).toFixed(1)} MB in all`);
  }
}
const last = await state();
const played = last.at - first.at;
const passed = (Date.now() - begun) / 1000;
hold("it played all the while", Math.abs(played - passed) < 2, `${played.toFixed(0)} of ${passed.toFixed(0)} s`);
hold("without a gap", last.gaps === first.gaps, `${last.gaps - first.gaps} of them`);
const settled = measured.filter(({ minute }) => minute >= SETTLING);
for (const what of ["objects", "held"]) {
  // By the middle of the first and of the last third: one minute may be just before the browser tidies up.
  const third = Math.ceil(settled.length / 3);
  const middle = (part) => part.map((at) => at[what]).sort((a, b) => a - b)[Math.floor(part.length / 2)];
  const grown = middle(settled.slice(-third)) - middle(settled.slice(0, third));
  if (Number.isFinite(grown)) {
    hold(`what is ${what === "held" ? "held in all" : "held of objects"} does not grow`, grown < MOST_GROWTH, `${(grown / 1e6).toFixed(1)} MB`);
  }
}
await browser.close();
rmSync(place, { recursive: true, force: true });
try { rmdirSync(GROUP); } catch { /* there was none, or the last thread has not gone yet */ }
console.log(failures.length === 0 ? "the page goes on" : `${failures.length} wrong`);
process.exit(failures.length === 0 ? 0 : 1);
