// The worker beside the screen: it follows what the band did, and says what a player sees when that is heard.
import { Engine } from "./engine.js";

/** @type {Engine | null} */
let engine = null;
/** What happened and is not heard yet. @type {string[]} */
let coming = [];
let charts = -1;
/** @type {string | null} */
let tabs = null;

/** @param {number} now */
const follow = (now) => {
  while (coming.length > 0 && Number.parseInt(coming[0], 10) <= now) {
    engine?.call("replay", coming.shift());
  }
};

/** @param {any} data */
const does = async (data) => {
  try {
    if (data.engine) engine = await Engine.made(data.engine);
    if (!engine) return;
    if (data.load) {
      engine.call("load", data.load, 0);
      [coming, charts, tabs] = [[], -1, null];
    }
    if (data.check) {
      engine.ask(data.check);
      const well = engine.parts.midi();
      self.postMessage({ checked: well ? "" : engine.answer() });
    }
    if (data.midi) {
      engine.call("midi", data.midi);
      self.postMessage({ midi: engine.bytes() });
    }
    if (data.progress) self.postMessage({ progress: engine.call("progress", data.progress) });
    if (data.news) coming.push(...data.news);
    if ("at" in data) {
      follow(data.at ?? Infinity);
      // Time that is not known yet is the time of the last thing that happened.
      const text = engine.call("view", null, data.at ?? 0);
      const view = text ? JSON.parse(text) : null;
      self.postMessage({ view });
      if (view && view.chart !== charts) {
        self.postMessage({ chart: JSON.parse(engine.call("chart")) });
      }
      const wanted = view && `${view.chart} ${view.tabLevel}`;
      if (view && wanted !== tabs) {
        tabs = wanted;
        const tab = engine.call("tab");
        self.postMessage({ tab: tab ? JSON.parse(tab) : null });
      }
      if (view) charts = view.chart;
    }
  } catch (why) {
    self.postMessage({ wrong: String(why instanceof Error ? why.message : why), view: null });
  }
};

/** One after the other: the engine takes a while to be made. */
let before = Promise.resolve();
self.onmessage = ({ data }) => {
  before = before.then(() => does(data));
};
