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
const slowed = (pids) => {
  try {
    mkdirSync(GROUP);
    writeFileSync(join(GROUP, "cpu.cfs_period_us"), "10000");
    writeFileSync(join(GROUP, "cpu.cfs_quota_us"), String(10000 / SLOW));
    // Its part, whatever else the machine does: the most that may be asked for.
    writeFileSync(join(GROUP, "cpu.shares"), "262144");
    // The audio thread runs in real time, whose share is another; a group that has none takes no such thread.
    writeFileSync(join(GROUP, "cpu.rt_period_us"), "10000");
    writeFileSync(join(GROUP, "cpu.rt_runtime_us"), String(10000 / SLOW));
    for (const pid of pids) writeFileSync(join(GROUP, "cgroup.procs"), String(pid));
    return true;
  } catch {
    return false;
  }
};
const devtools = await browser.newBrowserCDPSession();
// All processes that show pages: a browser keeps a spare one, in which the next page may be opened, and nothing says in which
// it was. No page but the one that is looked at is open.
const renderers = async () => (await devtools.send("SystemInfo.getProcessInfo")).processInfo
  .filter(({ type }) => type === "renderer").map(({ id }) => id);
/** What processes hold of their own, in bytes. @param {number[]} pids */
const held = (pids) => pids
  .map((pid) => 1024 * Number(/^RssAnon:\s*(\d+)/m.exec(readFileSync(`/proc/${pid}/status`, "utf8"))?.[1] ?? NaN))
  .reduce((sum, bytes) => sum + bytes, 0);

/** Seconds of a processor that processes took: the 12th and 13th field after a name in brackets, in hundredths. @param {number[]} pids */
const taken = (pids) => pids
  .map((pid) => readFileSync(`/proc/${pid}/stat`, "utf8").split(") ").at(-1)?.split(" ") ?? [])
  .reduce((sum, fields) => sum + (Number(fields[11]) + Number(fields[12])) / 100, 0);

const page = await browser.newPage({ viewport: { width: 820, height: 1180 } });
page.on("pageerror", (error) => hold("a script broke off", false, error.message));
await page.goto(`file://${file}`);
await page.waitForFunction(() => !document.getElementById("go").disabled && window.openchair.band.last, null, { timeout: 60000 });
const pids = await renderers();
const inside = await page.context().newCDPSession(page);
const group = pids.length > 0 && slowed(pids);
if (group) console.log(`figure: the page's process has 1/${SLOW} of a core`);
else {
  await inside.send("Emulation.setCPUThrottlingRate", { rate: SLOW });
  console.log(`figure: the page's own thread is slowed down to 1/${SLOW}`);
}
await inside.send("HeapProfiler.enable");
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
// A gap is one from the first touch on; the clock runs evenly a while after it.
const touched = await state();
await page.click("#go");
await page.waitForTimeout(5000);
const [first, begun] = [await state(), Date.now()];
const measured = [];
/** Seconds in which the song was over: looked at so often, and begun again. */
let over = 0;
const LOOK = 250;
const before = taken(pids);
let took = before;
for (let minute = 1; minute <= MINUTES; minute += 1) {
  for (let left; (left = begun + minute * 60000 - Date.now()) > 0;) {
    await page.waitForTimeout(Math.min(left, LOOK));
    const { standing } = await state();
    if (standing !== "play" && standing !== "count") {
      const since = Date.now();
      await page.keyboard.press("Space");
      await page.waitForFunction(() => ["play", "count"].includes(window.openchair.band.last?.standing));
      over += (Date.now() - since + LOOK) / 1000;
    }
  }
  await page.keyboard.press(hands[minute % hands.length]);
  const now = await state();
  measured.push({ minute, objects: await objects(), held: held(pids) });
  const { objects: small, held: large } = measured.at(-1);
  const [last, share] = [took, (took = taken(pids))];
  if (MINUTES <= 12 || minute % 5 === 0) {
    console.log(`figure: after ${minute} minutes ${now.gaps} gaps, ${(small / 1e6).toFixed(1)} MB of objects, ${(large / 1e6).toFixed(1)} MB in all`
      + `, ${((share - last) / 0.6).toFixed(1)} % of a core`);
  }
}
const last = await state();
const played = last.at - first.at;
const passed = (Date.now() - begun) / 1000;
// Between the song's end and its next beginning the sound's clock may stand; how long at most is known to a look.
hold("it played all the while", played > passed - over - 2 && played < passed + 2, `${played.toFixed(1)} of ${passed.toFixed(1)} s, ${over.toFixed(1)} s between songs`);
// A test that slows something else down holds nothing.
const worked = (taken(pids) - before) / passed;
if (group) hold("it was the page that was slowed down", worked > 0.02 && worked < 1.02 / SLOW, `${(100 * worked).toFixed(1)} % of a core`);
hold("without a gap", last.gaps === touched.gaps, `${last.gaps - touched.gaps} of them`);
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
