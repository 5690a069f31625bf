// What the page takes on a start-up's logbook. A browser slows the page down by a factor for this, but not its workers: for the time that its workers take,
// as the browser's own trace has it, the time that a slower one would take longer is added here. Threads that help with a fold are not traced: what the worker
// that asked them waits for the last of them is in the numbers "by the clock" alone, which hold only on a machine that has nothing else to do.
//
// usage: node page.mjs BASE PROGRAM LOGBOOK STORY YEAR   (started by bench/page.py; STORY: lines that end now; YEAR: lines of a tub's year) prints "name
// number" lines
import { execFileSync } from "node:child_process";
import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import { kept, settled, start, tap, until } from "../tests/web/browser.mjs";

const [, , base, program, logbook, story, year] = process.argv;
const SLOWER = 4;
const ROUND = 50;
const tell = (name, value, digits = 1) => console.log(`${name} ${value.toFixed(digits)}`);
execFileSync(program, ["-l", logbook, "import", story], { stdio: "ignore" });
const lodge = JSON.parse(readFileSync(story, "utf8").split("\n", 1)[0]).tub;

/** In the page: when each worker was asked and when it answered. */
const watched = () => {
  window.calls = [];
  const Plain = window.Worker;
  window.Worker = class extends Plain {
    constructor(...args) {
      super(...args);
      const open = new Map();
      this.addEventListener("message", ({ data }) => open.get(data.call) && (open.get(data.call).end = performance.now(), open.delete(data.call)), { capture: true });
      this.open = open;
    }
    postMessage(data) {
      const call = { name: data.name, words: String(data.args?.[1] ?? "").split(" ")[0], begin: performance.now(), end: Infinity };
      this.open.set(data.call, call);
      window.calls.push(call);
      super.postMessage(data);
    }
  };
};

/** Do something under the browser's trace. Returns what it returned and the processor time of the page's workers between two of its moments, in ms. */
async function traced(page, act) {
  await browser.startTracing(page, { categories: ["toplevel", "blink.user_timing"] });
  const done = await act();
  await page.evaluate(() => performance.mark(`bench ${performance.now()}`));
  const { traceEvents } = JSON.parse(await browser.stopTracing());
  const mark = traceEvents.find(({ name }) => name.startsWith("bench "));
  const workers = new Set(traceEvents.filter(({ name, pid, args }) => name === "thread_name" && pid === mark.pid && args.name.startsWith("DedicatedWorker")).map(({ tid }) => tid));
  const tasks = traceEvents.filter(({ name, pid, tid, dur }) => name.endsWith("::RunTask") && dur > 0 && pid === mark.pid && workers.has(tid));
  const moment = (ts) => (ts - mark.ts) / 1000 + Number(mark.name.split(" ")[1]);
  const worked = (from, to, clock = false) => tasks.reduce((sum, { ts, dur, tdur }) => sum + Math.max(0, Math.min(to, moment(ts + dur)) - Math.max(from, moment(ts))) * (clock ? 1 : Math.min(1, (tdur ?? 0) / dur)), 0);
  return [done, worked];
}

/** An id as another tub has it. */
const other = (id, number) => id.slice(0, 15) + String(number + 1).padStart(3, "0") + id.slice(18);

/** A tub's lines as those of another tub: every id has its number, and each line names the one before it. */
function chained(lines, number) {
  const prev = new Map();
  return lines.map((line) => {
    const fields = JSON.parse(line.replace(/[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}/g, (id) => other(id, number)));
    if (fields.kind === "tub") fields.name = `Tub ${number + 1}`;
    if (prev.has(fields.writer)) fields.prev = prev.get(fields.writer);
    const written = JSON.stringify(fields);
    prev.set(fields.writer, createHash("sha256").update(written).digest("hex"));
    return written;
  });
}

const browser = await start();
const context = await browser.newContext({ viewport: { width: 390, height: 844 }, locale: "en-GB" });
await context.addInitScript(watched);
const page = await context.newPage();
const session = await context.newCDPSession(page);
const slow = (rate) => session.send("Emulation.setCPUThrottlingRate", { rate });

// A fresh phone: what it fetches, and how long until the first card stands there.
let bytes = 0;
await session.send("Network.enable");
session.on("Network.loadingFinished", ({ encodedDataLength }) => (bytes += encodedDataLength));
const fresh = Date.now();
await page.goto(base);
await page.getByRole("link", { name: /Lodge/ }).first().waitFor();
await settled(page);
tell("page_fresh_s", (Date.now() - fresh) / 1000, 2);
tell("page_fresh_kb", bytes / 1000);
await kept(page);
await page.reload();
await settled(page);
// A fixed piece of work, for ratios.
const loop = await page.evaluate(() => { const from = performance.now(); let x = 0; for (let i = 0; i < 3e7; i++) x = (x * 31 + i) % 1000003; return performance.now() - from + (x < 0 ? 1 : 0); });
const tellMs = (name, ms) => { tell(`${name}_ms`, ms); tell(`${name}_ratio`, ms / loop, 3); };

/** In the page: wait until this is so, by its own clock and slowness. */
const moments = () => {
  window.until = async (good) => { while (!good()) await new Promise((next) => { const channel = new MessageChannel(); channel.port1.onmessage = next; channel.port2.postMessage(0); }); return performance.now(); };
  window.cardAt = window.roundAt = 0;
  new MutationObserver((_, watch) => document.querySelectorAll("a.line b").length > 50 && (window.roundAt = performance.now(), watch.disconnect())).observe(document, { childList: true, subtree: true });
  new MutationObserver((_, watch) => document.querySelector("h2.act") && (window.cardAt = performance.now(), watch.disconnect())).observe(document, { childList: true, subtree: true });
  window.stands = () => document.querySelector("main[aria-busy=false]") && !document.querySelector(".working");
};
await context.addInitScript(moments);
await page.evaluate(moments);

// One reading, slowed down: the entry, then the new card; three times, the middle one. The card is worked out from the moment when the last pad is set:
// once LOG follows as soon as it is done here, so that all of it is added, and once a hand takes a second to LOG.
const HAND_MS = 1000;
const middle = (list) => list.sort((a, b) => a - b)[1];
async function reading(page, slow) {
  const shown = [], advised = [], byHand = [], clock = [];
  for (let i = 0; i < 3; i++) {
    await page.evaluate((to) => (location.hash = to), `#/${lodge}/log/thermometer`);
    await page.locator("section.pad.open").waitFor();
    await settled(page);
    const calls = await page.evaluate(() => window.calls.length);
    const [{ foreseen, took }, worked] = await traced(page, async () => {
      await tap(page, "set");
      const ahead = () => page.evaluate((n) => window.calls.slice(n).find(({ name, end }) => name === "ahead" && end < Infinity), calls);
      await until(ahead);
      await slow(SLOWER);
      const took = await page.evaluate(async () => {
        const from = performance.now();
        [...document.querySelectorAll("button")].find((key) => key.textContent.startsWith("LOG")).click();
        const shown = await window.until(() => document.body.textContent.includes("Logged"));
        return { from, shown, advised: await window.until(() => window.stands()) };
      });
      await slow(1);
      return { foreseen: await ahead(), took };
    });
    const ahead = SLOWER * worked(foreseen.begin, foreseen.end);
    if (process.env.SHOW) console.log(`# ahead ${Math.round(ahead)} shown ${Math.round(took.shown - took.from)} advised ${Math.round(took.advised - took.from)}`, JSON.stringify(await page.evaluate((from) => window.calls.filter(({ begin }) => begin >= from).map(({ name, words, begin, end }) => `${name} ${words} ${Math.round(begin - from)}-${Math.round(end - from)}`), took.from)));
    const slowed = (to) => to - took.from + (SLOWER - 1) * worked(took.from, to);
    shown.push(slowed(took.shown));
    const took_ms = slowed(took.advised);
    advised.push(took_ms + ahead);
    byHand.push(took_ms + Math.max(0, ahead - HAND_MS));
    clock.push(took.advised - took.from + (SLOWER - 1) * worked(took.from, took.advised, true) + SLOWER * worked(foreseen.begin, foreseen.end, true));
    await settled(page);
    await page.waitForTimeout(1100);
  }
  return { shown: middle(shown), advised: middle(advised), byHand: middle(byHand), clock: middle(clock) };
}

const { shown, advised, byHand, clock } = await reading(page, slow);
tellMs("page_entry_shown_slowed", shown);
tellMs("page_advice_slowed", advised);
tellMs("page_advice_by_hand_slowed", byHand);
tellMs("page_advice_by_the_clock_slowed", clock);

// The same of a page that a host serves without saying that it stands alone: its folds have one thread.
const single = await browser.newContext({ viewport: { width: 390, height: 844 }, locale: "en-GB", serviceWorkers: "block" });
await single.addInitScript(watched);
await single.addInitScript(moments);
await single.route(base, async (route) => {
  const response = await route.fetch();
  const { "cross-origin-embedder-policy": _, ...headers } = response.headers();
  await route.fulfill({ response, headers });
});
const one = await single.newPage();
await one.goto(base);
await one.getByRole("link", { name: /Lodge/ }).first().waitFor();
await settled(one);
const oneSession = await single.newCDPSession(one);
const onOne = await reading(one, (rate) => oneSession.send("Emulation.setCPUThrottlingRate", { rate }));
tell("page_threads", await page.evaluate(() => (crossOriginIsolated ? Math.min(4, navigator.hardwareConcurrency) : 1)), 0);
tellMs("page_advice_one_core_slowed", onOne.advised);
tellMs("page_advice_by_hand_one_core_slowed", onOne.byHand);
tellMs("page_advice_by_the_clock_one_core_slowed", onOne.clock);
await single.close();

// Opened again from the service worker without the network, slowed down: first paint, the kept card, and what the worker takes for the same card
// from the checkpoint.
await page.evaluate((to) => (location.hash = to), `#/${lodge}/now`);
await settled(page);
await context.setOffline(true);
const painted = [], standing = [], checkpoint = [];
for (let i = 0; i < 3; i++) {
  const [{ begin, end }, worked] = await traced(page, async () => {
    await slow(SLOWER);
    await page.reload({ waitUntil: "commit" });
    await settled(page);
    await until(() => page.evaluate(() => window.calls.some(({ words, end }) => words === "now" && end < Infinity)));
    await slow(1);
    return page.evaluate(() => window.calls.find(({ words }) => words === "now"));
  });
  standing.push(await page.evaluate(() => window.cardAt));
  painted.push(await page.evaluate(() => performance.getEntriesByName("first-contentful-paint")[0].startTime));
  checkpoint.push(SLOWER * worked(begin, end));
  if (process.env.SHOW) console.log("#", JSON.stringify(await page.evaluate(() => [...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource"), ...performance.getEntriesByType("mark")].map((e) => `${e.name.split("/").pop()} ${Math.round(e.workerStart ?? 0)} ${Math.round(e.startTime)}-${Math.round(e.responseEnd ?? 0)}`).concat(`card ${Math.round(window.cardAt)}`, `dcl ${Math.round(performance.getEntriesByType("navigation")[0].domContentLoadedEventEnd)}`))));
  if (process.env.SHOW) console.log("#", JSON.stringify(await page.evaluate(() => window.calls.map(({ name, words, begin, end }) => `${name} ${words} ${Math.round(begin)}-${Math.round(end)}`))));
}
tellMs("page_first_paint_slowed", middle(painted));
tellMs("page_kept_card_slowed", middle(standing));
tellMs("page_checkpoint_advice_slowed", middle(checkpoint));

// A round of many tubs with a year each, from the cards that were kept: the lodge's, under other names. What stands on the disk is a year's lines with
// other ids; nobody checks them before the cards are shown.
const lines = readFileSync(year, "utf8").trim().split("\n").filter((line) => line.startsWith("{"));
const mark = JSON.parse(lines[0]).tub;
for (let i = 0; i < ROUND; i++) {
  const tub = other(mark, i);
  await page.evaluate(async ({ rows, tub, name, lodge }) => {
    const db = await new Promise((good) => (indexedDB.open("tubwright").onsuccess = ({ target }) => good(target.result)));
    const tx = db.transaction(["lines", "facts"], "readwrite");
    for (const line of rows) tx.objectStore("lines").put({ line, state: 2 });
    tx.objectStore("facts").get(`card:${lodge}`).onsuccess = ({ target }) =>
      tx.objectStore("facts").put({ ...target.result, entries: rows.length, answer: { ...target.result.answer, tub_id: tub, tub: name } }, `card:${tub}`);
    await new Promise((good) => (tx.oncomplete = good));
    db.close();
  }, { rows: chained(lines, i), tub, name: `Tub ${i + 1}`, lodge });
}
await page.goto("about:blank");
await slow(SLOWER);
await page.goto(`${base}#/`, { waitUntil: "commit" });
await page.waitForFunction((n) => document.querySelectorAll("a.line b").length > n, ROUND, { polling: 20, timeout: 60000 });
tellMs(`page_round_${ROUND}_slowed`, await page.evaluate(() => window.roundAt));
await slow(1);
const ready = () => page.evaluate(() => window.calls.find(({ name }) => name === "meet")?.begin ?? 0);
if (!(await until(async () => (await ready()) > 0, 120))) throw new Error(`the round is not ready: ${await page.locator("body").innerText()}`);
tell("page_round_ready_s", (await ready()) / 1000, 2);
const filled = () => page.evaluate(() => window.calls.find(({ name, end }) => name === "lines" && end < Infinity)?.end ?? 0);
if (!(await until(async () => (await filled()) > 0, 120))) throw new Error("the worker has not all lines");
tell("page_round_answers_s", (await filled()) / 1000, 2);
tell("page_round_entries", lines.length * ROUND, 0);
const { processInfo } = await (await browser.newBrowserCDPSession()).send("SystemInfo.getProcessInfo");
// All that lies in memory, and what of it is not the browser's own program, which other pages share.
for (const [name, kind] of [["page_round_memory_mb", "VmRSS"], ["page_round_memory_own_mb", "RssAnon"]])
  tell(name, Math.max(...processInfo.filter(({ type }) => type === "renderer").map(({ id }) => Number(new RegExp(`${kind}:\\s+(\\d+)`).exec(readFileSync(`/proc/${id}/status`, "utf8"))[1]) / 1000)), 0);
await browser.close();
