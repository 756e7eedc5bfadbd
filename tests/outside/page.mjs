// The band's page in a browser: node tests/outside/page.mjs PROGRAM FOLDER, where FOLDER has playwright-core and axe-core
// under node_modules. It opens the page from disk, plays it by hand, by keyboard and with the processor slowed down, holds
// what is heard to the WAV that the program exports, and lets axe look at it. Needs chromium; without it says so.

import { spawnSync } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { createServer } from "node:http";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";

const [program, folder] = process.argv.slice(2);
const BROWSERS = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];
const executablePath = BROWSERS.find((path) => existsSync(path));
const RATE = 48000;

const skip = (why) => {
  console.error(`\n*** NOT CHECKED: the band's page in a browser: ${why} ***\n`);
  process.exit(0);
};
if (!executablePath) skip("there is no chromium");
const load = createRequire(join(resolve(folder ?? "."), "index.js"));
let chromium, axe;
try {
  ({ chromium } = load("playwright-core"));
  axe = readFileSync(load.resolve("axe-core/axe.min.js"), "utf8");
} catch {
  skip(`there is no playwright-core and axe-core in ${folder}`);
}

const failures = [];
const hold = (what, well, more = "") => {
  console.log(`${well ? "well" : "WRONG"}: ${what}${more === "" ? "" : `: ${more}`}`);
  if (!well) failures.push(what);
};
const run = (...words) => {
  const done = spawnSync(program, words, { maxBuffer: 1 << 30 });
  if (done.status !== 0) throw new Error(`${words.join(" ")}: ${done.stderr}`);
  return done.stdout;
};

const place = mkdtempSync(join(tmpdir(), "openchair-page-"));
const file = join(place, "band.html");
run("page", "-o", file);
const odd = join(place, "odd.toml");
const TITLE = "</script><img src=x onerror=window.struck=1><script>window.struck=1</script>";
const song = readFileSync("songs/lantern-on-the-landing.toml", "utf8");
writeFileSync(odd, song.replace(/^title.*$/m, `title = '${TITLE}'`));
run("page", odd, "-o", join(place, "odd.html"));

const browser = await chromium.launch({
  executablePath,
  args: [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--autoplay-policy=no-user-gesture-required",
  ],
});

/** Before the page's scripts: sound at the rate of the exported file, and all of it written down. */
const listening = (rate) => {
  const Plain = window.AudioContext;
  window.AudioContext = class extends Plain {
    constructor(options) { super({ ...options, sampleRate: rate }); }
  };
  window.listen = async () => {
    const { sound } = window.openchair.band;
    const script = `registerProcessor("tape", class extends AudioWorkletProcessor {
      process([[left]]) { if (left) this.port.postMessage({ time: currentTime, left: left.slice() }); return true; }
    });`;
    await sound.context.audioWorklet.addModule(`data:text/javascript,${encodeURIComponent(script)}`);
    const tape = new AudioWorkletNode(sound.context, "tape");
    window.tape = [];
    tape.port.onmessage = ({ data }) => window.tape.push(data);
    sound.out.connect(tape);
    // Its own silence, so that the browser runs it.
    tape.connect(sound.context.destination);
  };
  window.heard = (threshold, from = 0) => {
    for (const { time, left } of window.tape) {
      if (time < from) continue;
      const at = left.findIndex((sample) => Math.abs(sample) > threshold);
      if (at >= 0) return time + at / rate;
    }
    return null;
  };
};

const open = async (path, size = { width: 1280, height: 800 }, more = {}) => {
  const page = await browser.newPage({ viewport: size, ...more });
  page.on("pageerror", (error) => hold("a script broke off", false, error.message));
  page.on("request", (request) => {
    if (!/^(file|blob|data):/.test(request.url())) hold("something was fetched", false, request.url());
  });
  await page.addInitScript(listening, RATE);
  await page.goto(`file://${path}`);
  await ready(page);
  return page;
};
const ready = (page) => page.waitForFunction(() => !document.getElementById("go").disabled && window.openchair.band.last, null, { timeout: 60000 });
const take = async (page, title) => {
  await page.evaluate(() => { window.openchair.band.last = null; });
  await page.selectOption("#song", { label: title });
  await ready(page);
};
const see = (page, what) => page.evaluate((what) => window.openchair.band.last?.[what], what);
const until = (page, what, wanted) => page.waitForFunction(
  ([what, wanted]) => JSON.stringify(window.openchair.band.last?.[what]) === JSON.stringify(wanted),
  [what, wanted], { timeout: 15000 },
).then(() => true, () => false);

// What is heard against what is exported.
const wave = run("export", "songs/lantern-on-the-landing.toml", "-o", "-", "--format", "wav");
const data = wave.indexOf("data") + 8;
const bytes = wave.readUInt16LE(34) / 8;
const sample = (frame) => (bytes === 2 ? wave.readInt16LE(data + 4 * frame) / 32768
  : bytes === 3 ? wave.readIntLE(data + 6 * frame, 3) / 8388608 : wave.readFloatLE(data + 8 * frame));
const alike = (heard) => {
  const first = (at, length) => { let frame = 0; while (frame < length && Math.abs(at(frame)) < 1e-4) frame += 1; return frame; };
  const shift = first((frame) => heard[frame], heard.length) - first(sample, RATE);
  const frames = heard.length - shift;
  let best = 0;
  for (let near = -2; near <= 2; near += 1) {
    let [ab, aa, bb] = [0, 0, 0];
    for (let frame = 2; frame < frames - 2; frame += 1) {
      const [a, b] = [heard[frame + shift + near], sample(frame)];
      ab += a * b; aa += a * a; bb += b * b;
    }
    best = Math.max(best, ab / Math.sqrt(aa * bb || 1));
  }
  return best;
};
{
  // A machine that is busy with other things may leave a gap; then it is heard again.
  let [best, gaps] = [0, 1];
  for (let attempt = 0; attempt < 4 && gaps > 0; attempt += 1) {
    const page = await open(file);
    await take(page, "Lantern on the Landing");
    await page.selectOption("#bars", "0", { force: true }).catch(() => page.evaluate(() => { document.getElementById("bars").value = "0"; }));
    await page.evaluate(() => window.listen());
    if (attempt === 0) {
      const worklet = await page.evaluate(async () => Boolean(await window.openchair.band.sound.node));
      hold("from disk, the audio thread hands out the sound", worklet);
    }
    await page.click("#go");
    await page.waitForTimeout(12000);
    const heard = await page.evaluate(() => {
      const all = [];
      for (const { left } of window.tape) all.push(...left);
      return all;
    });
    gaps = await page.evaluate(() => window.openchair.band.sound.gaps);
    best = alike(heard);
    await page.close();
  }
  if (gaps > 0) console.error("*** NOT CHECKED: what is heard against what is exported: the machine was too busy ***");
  else hold("what is heard is what is exported", best > 0.9999, best.toFixed(7));
}

// From a touch to the first sound, and from a control to what it does.
for (const slow of [1, 4]) {
  const page = await open(file);
  const devtools = await page.context().newCDPSession(page);
  await devtools.send("Emulation.setCPUThrottlingRate", { rate: slow });
  await take(page, "Lantern on the Landing");
  await page.evaluate(() => window.listen());
  const touched = await page.evaluate(() => {
    const now = performance.now();
    document.getElementById("go").click();
    return now;
  });
  await page.waitForFunction(() => window.heard(0.001) !== null, null, { timeout: 10000 });
  // By the clock on the wall, with what the device says of its own delay.
  const first = await page.evaluate(() => {
    const { contextTime, performanceTime } = window.openchair.band.sound.context.getOutputTimestamp();
    return performanceTime + 1000 * (window.heard(0.001) - contextTime);
  });
  console.log(`figure: at 1/${slow} of the processor, from touch to first sound ${(first - touched).toFixed(0)} ms`);
  await page.waitForTimeout(4000);
  const asked = await page.evaluate(() => {
    window.openchair.band.act("silence");
    return window.openchair.band.sound.context.currentTime;
  });
  await page.waitForTimeout(1000);
  const silent = await page.evaluate((asked) => {
    let last = asked;
    for (const { time, left } of window.tape) {
      if (time > asked && left.some((sample) => Math.abs(sample) > 0.001)) last = time + left.length / 48000;
    }
    return last;
  }, asked);
  const gaps = await page.evaluate(() => window.openchair.band.sound.gaps);
  console.log(`figure: at 1/${slow}, from control to effect ${(1000 * (silent - asked)).toFixed(0)} ms, a fade of 30 in it; ${gaps} gaps so far`);
  await page.close();
}

// By keyboard alone.
{
  const page = await open(file);
  await take(page, "Lantern on the Landing");
  await page.evaluate(() => { document.getElementById("bars").value = "0"; document.activeElement.blur(); });
  await page.keyboard.press("Space");
  hold("the space bar plays", await until(page, "standing", "play"));
  await page.keyboard.press("k");
  hold("a key goes up", await until(page, "key", "Ab"), await see(page, "key"));
  await page.keyboard.press("c");
  hold("it is counted in", await until(page, "standing", "count"));
  await page.keyboard.press("2");
  hold("half the tempo", await until(page, "speed", 50));
  await page.keyboard.press("l");
  hold("a section goes round", await until(page, "loop", [1, 16]), JSON.stringify(await see(page, "loop")));
  await page.keyboard.press("Backspace");
  hold("and goes round no more", await until(page, "loop", null));
  await page.keyboard.press("Space");
  hold("the space bar pauses", await until(page, "standing", "pause"));
  let reached = false;
  for (let step = 0; step < 12 && !reached; step += 1) {
    await page.keyboard.press("Tab");
    reached = await page.evaluate(() => document.activeElement?.id === "go");
  }
  await page.keyboard.press("Enter");
  hold("what is focused is pressed", reached && (await until(page, "standing", "play")));
  const stops = () => page.evaluate(() => document.querySelectorAll("#chart [tabindex='0']").length);
  hold("the chart is one stop on the way", (await stops()) === 1);
  await page.keyboard.press("Space");
  await page.focus("#chart [tabindex='0']");
  const from = await see(page, "bar");
  await page.keyboard.press("ArrowRight");
  hold("the arrows lead from bar to bar", await page.waitForFunction(
    (from) => document.activeElement?.getAttribute("aria-current") === "true" && window.openchair.band.last.bar === from + 1,
    from, { timeout: 5000 }).then(() => true, () => false));
  await page.evaluate(() => document.getElementById("marking").click());
  hold("where bars are chosen, each is a stop", (await stops()) > 8);
  await page.close();
}

// By hand: a chair, a loop of touched bars, a banjo in the chair.
{
  const page = await open(file, { width: 820, height: 1180 }, { hasTouch: true });
  await take(page, "Lantern on the Landing");
  await page.evaluate(() => { document.getElementById("bars").value = "0"; });
  await page.tap("#go");
  await until(page, "standing", "play");
  await page.tap("#chair-chop");
  hold("a chair is left open", await page.waitForFunction(
    () => document.getElementById("chair-chop").getAttribute("aria-pressed") === "false", null, { timeout: 5000 }).then(() => true, () => false));
  await page.tap("#marking");
  await page.tap("#chart .bar >> nth=2");
  await page.tap("#chart .bar >> nth=4");
  hold("touched bars go round", await until(page, "loop", [3, 5]), JSON.stringify(await see(page, "loop")));
  await page.selectOption("#banjo-level", "full");
  hold("a banjo plays in the chair", await until(page, "banjoLevel", "full"));
  await page.selectOption("#rule", "turns", { force: true }).catch(() => {});
  await page.tap("#chart .bar >> nth=3");
  await page.waitForTimeout(4000);
  const bar = await see(page, "bar");
  hold("it is within the loop", bar >= 3 && bar <= 5, bar);
  await page.close();
}

// From a server in the room: a policy that lets nothing be fetched, and perhaps no audio worklet.
{
  const policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data: blob:; media-src data: blob:; font-src data:; "
    + "script-src 'unsafe-inline' 'wasm-unsafe-eval' blob: data:; worker-src blob: data:; connect-src data: blob:; base-uri 'none'";
  const server = createServer((_, answer) => {
    answer.writeHead(200, { "content-type": "text/html; charset=utf-8", "content-security-policy": policy });
    answer.end(readFileSync(file));
  });
  await new Promise((done) => server.listen(0, "127.0.0.1", done));
  for (const worklet of [true, false]) {
    const page = await browser.newPage();
    page.on("pageerror", (error) => hold("a script broke off", false, error.message));
    if (!worklet) await page.addInitScript(() => Object.defineProperty(BaseAudioContext.prototype, "audioWorklet", { value: undefined }));
    await page.goto(`http://127.0.0.1:${server.address().port}/`);
    await ready(page);
    await page.evaluate(() => { document.getElementById("bars").value = "0"; });
    await page.click("#go");
    const bar = await page.waitForFunction(() => window.openchair.band.last?.bar >= 2, null, { timeout: 20000 }).then(() => true, () => false);
    const node = await page.evaluate(async () => Boolean(await window.openchair.band.sound.node));
    const peak = await page.evaluate(async () => {
      const { sound } = window.openchair.band;
      const ear = new AnalyserNode(sound.context, { fftSize: 4096 });
      sound.out.connect(ear);
      let most = 0;
      for (let look = 0; look < 20; look += 1) {
        await new Promise((done) => setTimeout(done, 100));
        const heard = new Float32Array(4096);
        ear.getFloatTimeDomainData(heard);
        most = Math.max(most, ...heard.map(Math.abs));
      }
      return most;
    });
    hold(`from a server, ${worklet ? "with" : "without"} an audio worklet`, bar && node === worklet && peak > 0.01, peak.toFixed(3));
    await page.close();
  }
  server.close();
}

// A stranger's title.
{
  const page = await open(join(place, "odd.html"));
  await page.waitForTimeout(500);
  hold("a title of script tags is a title", await page.evaluate((title) =>
    window.struck === undefined && document.getElementById("title").textContent === title, TITLE));
  await page.close();
}

// What is typed: every wrong song has the message that the program gives, and the page lives.
{
  const page = await open(join(place, "odd.html"));
  await page.evaluate(() => { document.getElementById("writing").open = true; });
  const files = readdirSync("tests/wrong_songs").filter((name) => name.endsWith(".toml"));
  let [same, other] = [0, []];
  for (const name of files) {
    const path = join("tests/wrong_songs", name);
    const text = readFileSync(path, "utf8").replaceAll("\r\n", "\n");
    const copy = join(place, "typed.toml");
    writeFileSync(copy, text);
    const told = spawnSync(program, ["export", copy, "-o", "-", "--format", "mid"]);
    if (told.status === 0) continue;
    await page.evaluate((text) => {
      document.getElementById("messages").textContent = "…";
      const area = document.getElementById("text");
      area.value = text;
      area.dispatchEvent(new Event("input"));
    }, text);
    await page.waitForFunction(() => document.getElementById("messages").textContent !== "…", null, { timeout: 20000 });
    const said = await page.textContent("#messages");
    // The two name the file each in its own way, margins may differ with that, and the program counts at the end.
    const plain = (words) => words.replace(/^openchair: \d+ problems? in \d+ files?$/m, "").replaceAll(copy, "F").replaceAll("odd.toml", "F").replace(/\s+/g, " ").trim();
    if (plain(said) === plain(String(told.stderr))) same += 1;
    else other.push(`${name}:\n${said}\n${told.stderr}`);
  }
  hold("every wrong song has the program's message", same > 0 && other.length === 0, `${same} the same, ${other.length} not${other.length ? `\n${other[0]}` : ""}`);
  await page.fill("#text", song);
  hold("what is mended is sound", await page.waitForFunction(
    () => !document.getElementById("take-up").disabled, null, { timeout: 10000 }).then(() => true, () => false));
  await page.click("#take-up");
  hold("and is played", await page.waitForFunction(
    () => document.getElementById("title").textContent === "Lantern on the Landing", null, { timeout: 10000 }).then(() => true, () => false));
  const [download] = await Promise.all([page.waitForEvent("download"), page.click("#save-midi")]);
  const midi = readFileSync(await download.path());
  hold("and saved as the program would", midi.equals(run("export", "songs/lantern-on-the-landing.toml", "-o", "-", "--format", "mid")));
  await page.close();
}

// What it makes is what the program makes; and a title of script tags is inert on the printed chart too.
{
  const page = await open(file);
  await take(page, "One Plank Short");
  await page.evaluate(() => { document.getElementById("writing").open = true; });
  const made = async (id) => {
    const [download] = await Promise.all([page.waitForEvent("download", { timeout: 240000 }), page.click(`#save-${id}`)]);
    return readFileSync(await download.path());
  };
  const chart = await made("chart");
  hold("the chart to print is the program's", chart.equals(run("chart", "one-plank-short", "-o", "-", "--format", "html")));
  const theirs = run("export", "one-plank-short", "-o", "-", "--format", "wav");
  const ours = await made("wav");
  const far = ours.length === theirs.length
    ? Math.max(...Array.from({ length: 4000 }, (_, at) => { const place = 44 + 2 * Math.floor((at * (ours.length - 50)) / 8000); return Math.abs(ours.readInt16LE(place) - theirs.readInt16LE(place)); }))
    : Infinity;
  // The last bit of a float may differ, and so may what is rounded from it.
  hold("the sound file is the program's", far <= 2, far);
  await page.close();
  const strange = await open(join(place, "odd.html"));
  await strange.evaluate(() => { document.getElementById("writing").open = true; });
  const [download] = await Promise.all([strange.waitForEvent("download", { timeout: 60000 }), strange.click("#save-chart")]);
  const printed = readFileSync(await download.path(), "utf8");
  hold("a title of script tags is inert on the printed chart", !printed.includes("<script") && !printed.includes("<img"));
  await strange.close();
}

// Drills, speeds that climb, and the neck.
{
  const page = await open(file);
  await take(page, "Lantern on the Landing");
  await page.evaluate(() => { document.getElementById("practising").open = true; });
  await page.fill("#climb-from", "150");
  await page.fill("#climb-to", "200");
  await page.fill("#climb-step", "25");
  await page.click("#drill");
  await until(page, "standing", "play");
  hold("a change is drilled", await until(page, "lastBar", 4) && (await see(page, "speed")) === 150, JSON.stringify(await see(page, "form")));
  const climbs = page.waitForFunction(() => window.openchair.band.last?.speed > 150, null, { timeout: 60000 });
  hold("and climbs", await climbs.then(() => true, () => false), await see(page, "looping"));
  await page.click("#neck-on");
  await page.waitForTimeout(600);
  hold("the neck shows the hand", await page.evaluate(() => document.querySelectorAll("#neck .place").length > 0));
  await page.click("#marking");
  await page.click("#whole");
  await ready(page);
  hold("the song comes back", await page.waitForFunction(() => window.openchair.band.last?.lastBar > 8, null, { timeout: 10000 }).then(() => true, () => false));
  await page.close();
}

// A MIDI instrument and a pedal, where the browser has them: a stand-in for both.
{
  const page = await browser.newPage();
  page.on("pageerror", (error) => hold("a script broke off", false, error.message));
  await page.addInitScript(() => {
    window.got = [];
    window.input = { id: "in", name: "pedal", onmidimessage: null };
    const output = { id: "out", name: "box", send: (bytes, at) => window.got.push({ bytes: [...bytes], at, now: performance.now() }) };
    navigator.requestMIDIAccess = async () => ({ inputs: new Map([["in", window.input]]), outputs: new Map([["out", output]]), onstatechange: null });
  });
  await page.goto(`file://${file}`);
  await ready(page);
  await page.evaluate(() => { document.getElementById("bars").value = "0"; document.getElementById("midi").open = true; });
  await page.click("#midi-open");
  await page.selectOption("#midi-out", "out");
  await page.click("#go");
  await until(page, "standing", "play");
  await page.waitForFunction(() => window.got.filter(({ bytes }) => bytes[0] >> 4 === 9).length > 20, null, { timeout: 60000 });
  const got = await page.evaluate(() => window.got);
  const notes = got.filter(({ bytes }) => bytes[0] >> 4 === 9);
  const set = new Set(got.filter(({ bytes }) => bytes[0] >> 4 === 12).map(({ bytes }) => bytes[0] & 15));
  hold("the band is played as MIDI", notes.length > 10 && notes.every(({ bytes }) => set.has(bytes[0] & 15) || (bytes[0] & 15) === 9), `${notes.length} notes`);
  const ahead = notes.map(({ at, now }) => at - now).sort((a, b) => a - b);
  hold("messages are stamped ahead of their time", ahead[Math.floor(ahead.length / 2)] > 0, `${ahead[0]?.toFixed(0)} to ${ahead.at(-1)?.toFixed(0)} ms`);
  hold("and the page is silent meanwhile", await page.evaluate(() => window.openchair.band.sound.out.gain.value === 0));
  await page.selectOption("#teach-what", "pause");
  await page.click("#teach");
  await page.evaluate(() => window.input.onmidimessage({ data: new Uint8Array([0xB0, 64, 127]) }));
  await page.evaluate(() => window.input.onmidimessage({ data: new Uint8Array([0xB0, 64, 0]) }));
  await page.evaluate(() => window.input.onmidimessage({ data: new Uint8Array([0xB0, 64, 127]) }));
  hold("a pedal that was taught pauses the band", await until(page, "standing", "pause"));
  await page.waitForTimeout(500);
  const sounding = new Map();
  for (const { bytes: [status, key, value] } of await page.evaluate(() => window.got)) {
    const name = `${status & 15} ${key}`;
    if (status >> 4 === 9 && value > 0) sounding.set(name, 1);
    if (status >> 4 === 8) sounding.delete(name);
  }
  hold("and no note hangs", sounding.size === 0, sounding.size);
  await page.close();
}

// A lesson: the same page with a teacher's list.
{
  const lesson = join(place, "lesson.html");
  run("lesson", "songs/lessons/first-week.toml", "-o", lesson);
  for (const [width, height] of [[360, 740], [1280, 800]]) {
    const page = await open(lesson, { width, height });
    await page.click("[data-item=\"1\"] button >> nth=0");
    hold("a thing of a lesson is played", await until(page, "speed", 75) && await until(page, "standing", "count"), await see(page, "title"));
    hold("with the chair open that it leaves", (await see(page, "chairs")).some((chair) => chair.role === "guitar" && chair.open));
    await page.click("[data-item=\"0\"] [aria-label=\"Drill C to F at 80 percent\"]");
    hold("a change of a lesson is drilled", await until(page, "form", ["C to F"]) && await until(page, "speed", 80), JSON.stringify(await see(page, "form")));
    await page.evaluate(() => { for (const it of document.querySelectorAll("details")) it.open = true; });
    await page.evaluate(axe);
    const { violations } = await page.evaluate(() => window.axe.run());
    hold(`axe finds nothing in a lesson at ${width}`, violations.length === 0, violations.map((it) => it.id).join(", "));
    const wide = await page.evaluate(() => document.documentElement.scrollWidth);
    hold(`nothing of a lesson is cut off at ${width}`, wide <= width, wide);
    await page.close();
  }
}

// For everybody, on every screen.
for (const [name, width, height] of [["phone", 360, 740], ["tablet", 820, 1180], ["desktop", 1280, 800]]) {
  for (const colorScheme of ["light", "dark"]) {
    const page = await open(file, { width, height }, { colorScheme });
    await page.evaluate(() => { for (const it of document.querySelectorAll("details")) it.open = true; });
    await page.evaluate(axe);
    const { violations } = await page.evaluate(() => window.axe.run());
    hold(`axe finds nothing: ${name}, ${colorScheme}`, violations.length === 0, violations.map((it) => it.id).join(", "));
    const wide = await page.evaluate(() => document.documentElement.scrollWidth);
    hold(`nothing is cut off: ${name}`, wide <= width, wide);
    await page.close();
  }
}
const printed = await open(file);
hold("it prints", (await printed.pdf({ format: "A4" })).length > 10000);

await browser.close();
rmSync(place, { recursive: true });
console.log(failures.length === 0 ? "the page is well" : `${failures.length} wrong`);
process.exit(failures.length === 0 ? 0 : 1);
