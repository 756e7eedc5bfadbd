// The band's page in Firefox, without a driver of others': node tests/outside/firefox.mjs PROGRAM. Firefox speaks WebDriver
// BiDi (the W3C's working draft) by itself, over a web socket. It opens the page from disk, plays it and hears it. Needs
// firefox or firefox-esr; without it says so.

import { spawn, spawnSync } from "node:child_process";
import { randomBytes } from "node:crypto";
import { existsSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { connect } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";

const [program] = process.argv.slice(2);
const BROWSERS = ["/usr/bin/firefox-esr", "/usr/bin/firefox"];
const browser = BROWSERS.find((path) => existsSync(path));
if (!browser) {
  console.error("\n*** NOT CHECKED: the band's page in Firefox: there is no firefox ***\n");
  process.exit(0);
}

const failures = [];
const hold = (what, well, more = "") => {
  console.log(`${well ? "well" : "WRONG"}: ${what}${more === "" ? "" : `: ${more}`}`);
  if (!well) failures.push(what);
};

/** A web socket (RFC 6455), as far as it is needed here: whole texts, no extension. */
class Socket {
  static async open(host, port, path) {
    const socket = connect(port, host);
    await new Promise((done, fail) => socket.once("connect", done).once("error", fail));
    const key = randomBytes(16).toString("base64");
    socket.write(`GET ${path} HTTP/1.1\r\nHost: ${host}:${port}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Key: ${key}\r\nSec-WebSocket-Version: 13\r\n\r\n`);
    const made = new Socket(socket);
    await made.opened;
    return made;
  }

  constructor(socket) {
    this.socket = socket;
    this.came = Buffer.alloc(0);
    this.text = [];
    this.ontext = () => {};
    let begun = false;
    this.opened = new Promise((done, fail) => {
      socket.on("error", fail);
      socket.on("data", (data) => {
        this.came = Buffer.concat([this.came, data]);
        if (!begun) {
          const end = this.came.indexOf("\r\n\r\n");
          if (end < 0) return;
          const head = this.came.subarray(0, end).toString();
          if (!head.startsWith("HTTP/1.1 101")) fail(new Error(head));
          this.came = this.came.subarray(end + 4);
          begun = true;
          done(undefined);
        }
        this.frames();
      });
    });
  }

  frames() {
    for (;;) {
      if (this.came.length < 2) return;
      const [first, second] = this.came;
      let [length, from] = [second & 127, 2];
      if (length === 126) {
        if (this.came.length < 4) return;
        [length, from] = [this.came.readUInt16BE(2), 4];
      } else if (length === 127) {
        if (this.came.length < 10) return;
        [length, from] = [Number(this.came.readBigUInt64BE(2)), 10];
      }
      if (this.came.length < from + length) return;
      const body = this.came.subarray(from, from + length);
      this.came = this.came.subarray(from + length);
      const kind = first & 15;
      if (kind === 9) this.send(body, 10);
      if (kind > 2) continue;
      this.text.push(body);
      if (first & 128) this.ontext(Buffer.concat(this.text.splice(0)).toString());
    }
  }

  send(body, kind = 1) {
    const bytes = Buffer.from(body);
    const mask = randomBytes(4);
    const head = bytes.length < 126 ? Buffer.from([128 | kind, 128 | bytes.length]) : Buffer.alloc(4);
    if (bytes.length >= 126) {
      head.set([128 | kind, 128 | 126]);
      head.writeUInt16BE(bytes.length, 2);
    }
    for (let at = 0; at < bytes.length; at += 1) bytes[at] ^= mask[at % 4];
    this.socket.write(Buffer.concat([head, mask, bytes]));
  }
}

const place = mkdtempSync(join(tmpdir(), "openchair-firefox-"));
const file = join(place, "band.html");
const made = spawnSync(program, ["page", "-o", file]);
if (made.status !== 0) throw new Error(String(made.stderr));
const profile = join(place, "profile");
spawnSync("mkdir", ["-p", profile]);
// It fetches nothing, reports nothing, and lets sound begin: nobody touches it here.
writeFileSync(join(profile, "user.js"), [
  ["media.autoplay.default", 0], ["media.autoplay.blocking_policy", 0], ["app.update.enabled", false],
  ["datareporting.policy.dataSubmissionEnabled", false], ["toolkit.telemetry.enabled", false],
  ["network.captive-portal-service.enabled", false], ["network.connectivity-service.enabled", false],
  ["browser.safebrowsing.malware.enabled", false], ["browser.safebrowsing.phishing.enabled", false],
  ["extensions.update.enabled", false], ["browser.shell.checkDefaultBrowser", false], ["services.settings.server", ""],
].map(([name, value]) => `user_pref(${JSON.stringify(name)}, ${JSON.stringify(value)});\n`).join(""));

// Without a sound device Firefox lets no time go by: it gets one that leads nowhere.
const devices = existsSync("/usr/bin/pulseaudio") ? "/usr/bin/pulseaudio" : null;
const server = `unix:${join(place, "sound")}`;
const room = { ...process.env, HOME: place, XDG_RUNTIME_DIR: place, PULSE_RUNTIME_PATH: place, MOZ_CRASHREPORTER_DISABLE: "1" };
const sink = devices && spawn(devices, [
  "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no", "--realtime=no", "--high-priority=no",
  "-L", `module-native-protocol-unix socket=${join(place, "sound")} auth-anonymous=1`,
  "-L", "module-null-sink sink_name=nowhere rate=48000", "-L", "module-always-sink",
], { env: { ...room, PULSE_SERVER: "" }, stdio: "ignore" });
sink?.on("error", () => {});
for (let tries = 0; sink && tries < 50 && !existsSync(join(place, "sound")); tries += 1) await new Promise((done) => setTimeout(done, 100));

const firefox = spawn(browser, ["--headless", "--no-remote", "--profile", profile, "--remote-debugging-port", "0"], {
  env: { ...room, PULSE_SERVER: server }, stdio: ["ignore", "pipe", "pipe"],
});
const ended = new Promise((done) => firefox.once("exit", done));
try {
  const address = await new Promise((done, fail) => {
    const timer = setTimeout(() => fail(new Error("Firefox does not begin")), 90000);
    let said = "";
    for (const stream of [firefox.stdout, firefox.stderr]) {
      stream.on("data", (data) => {
        said += data;
        const found = /WebDriver BiDi listening on ws:\/\/([^:\s]+):(\d+)/.exec(said);
        if (!found) return;
        clearTimeout(timer);
        done({ host: found[1], port: Number(found[2]) });
      });
    }
    firefox.once("exit", () => fail(new Error(`Firefox ended: ${said}`)));
  });
  const socket = await Socket.open(address.host, address.port, "/session");
  let number = 0;
  const waiting = new Map();
  const errors = [];
  socket.ontext = (text) => {
    const said = JSON.parse(text);
    if (said.method === "log.entryAdded" && said.params.level === "error") errors.push(said.params.text);
    const [done, fail] = waiting.get(said.id) ?? [];
    waiting.delete(said.id);
    if (said.type === "error") fail?.(new Error(`${said.error}: ${said.message}`));
    else done?.(said.result);
  };
  const ask = (method, params) => new Promise((done, fail) => {
    number += 1;
    waiting.set(number, [done, fail]);
    socket.send(JSON.stringify({ id: number, method, params }));
  });
  const { capabilities } = await ask("session.new", { capabilities: {} });
  console.log(`${capabilities.browserName} ${capabilities.browserVersion}`);
  await ask("session.subscribe", { events: ["log.entryAdded"] });
  const { contexts: [{ context }] } = await ask("browsingContext.getTree", {});
  await ask("browsingContext.setViewport", { context, viewport: { width: 1280, height: 800 } });
  await ask("browsingContext.navigate", { context, url: `file://${file}`, wait: "complete" });
  const see = async (expression) => {
    const told = await ask("script.evaluate", {
      expression: `Promise.resolve(${expression}).then((it) => JSON.stringify(it ?? null))`, target: { context }, awaitPromise: true,
    });
    if (told.type === "exception") throw new Error(told.exceptionDetails.text);
    return JSON.parse(told.result.value);
  };
  const until = async (expression, seconds) => {
    for (let tries = 0; tries < seconds * 5; tries += 1) {
      if (await see(expression)) return true;
      await new Promise((done) => setTimeout(done, 200));
    }
    return false;
  };
  hold("the band is there", await until("!document.getElementById('go').disabled && Boolean(window.openchair.band.last)", 90),
    await see("document.getElementById('title').textContent"));
  await see("void (document.getElementById('bars').value = '0')");
  // A press of the space bar, as a hand makes it.
  const press = (value) => ask("input.performActions", { context, actions: [{ type: "key", id: "keys", actions: [{ type: "keyDown", value }, { type: "keyUp", value }] }] });
  await press(" ");
  hold("the space bar plays", await until("window.openchair.band.last.standing === 'play'", 30), await see("window.openchair.band.last.standing"));
  hold("and it goes on", await until("window.openchair.band.last.bar >= 2", 60), await see("window.openchair.band.last.bar"));
  const loud = await see(`(async () => {
    const { sound } = window.openchair.band;
    const ear = new AnalyserNode(sound.context, { fftSize: 4096 });
    sound.out.connect(ear);
    let most = 0;
    for (let look = 0; look < 30; look += 1) {
      await new Promise((done) => setTimeout(done, 100));
      const heard = new Float32Array(4096);
      ear.getFloatTimeDomainData(heard);
      most = Math.max(most, ...heard.map(Math.abs));
    }
    return most;
  })()`);
  hold("it is heard", loud > 0.01 && loud <= 1, loud.toFixed(3));
  console.log(`figure: the audio thread hands out the sound: ${await see("window.openchair.band.sound.node.then(Boolean)")}; ${await see("window.openchair.band.sound.gaps")} gaps`);
  await see("void window.openchair.band.act('speed 80')");
  hold("the speed is changed", await until("window.openchair.band.last.speed === 80", 20));
  await see("void document.getElementById('save-chart').click()");
  hold("a chart is made", await until("document.getElementById('said').textContent === 'The file is made.'", 60), await see("document.getElementById('said').textContent"));
  await press(" ");
  hold("and pauses", await until("window.openchair.band.last.standing === 'pause'", 20));
  const wide = await see("document.documentElement.scrollWidth");
  hold("nothing is cut off", wide <= 1280, wide);
  hold("no script broke off", errors.length === 0, errors.join("; "));
  await ask("browser.close", {}).catch(() => {});
} catch (why) {
  hold("Firefox does as it is asked", false, why.message);
} finally {
  await Promise.race([ended, new Promise((done) => setTimeout(done, 10000))]);
  if (firefox.exitCode === null) firefox.kill("SIGKILL");
  await ended;
  sink?.kill();
  rmSync(place, { recursive: true, force: true });
}
console.log(failures.length === 0 ? "the page is well in Firefox" : `${failures.length} wrong`);
process.exit(failures.length === 0 ? 0 : 1);
