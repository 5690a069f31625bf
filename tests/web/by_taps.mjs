// Entries made by taps on the page, as somebody with the phone in the hand makes them.
import { settled, tap, until } from "./browser.mjs";

/** What stands in the logbook of a device: lines, in the order of their bytes. */
export const rows = (page) => page.evaluate(() => new Promise((good) => (indexedDB.open("tubwright").onsuccess = ({ target }) =>
  (target.result.transaction("lines").objectStore("lines").getAll().onsuccess = ({ target: got }) => { target.result.close(); good(got.result.map(({ line }) => line).sort()); }))));

/** What the page's own kind of worker answers from the logbook of the device. */
export const answer = (page, tub, question) => page.evaluate(async ([tub, question]) => {
  const worker = new Worker("/app/answers.js", { type: "module" });
  let call = 0;
  const ask = (name, ...args) => new Promise((good, bad) => {
    const mine = ++call;
    worker.addEventListener("message", ({ data }) => data.call === mine && (data.fault ? bad(new Error(data.fault.message)) : good(data.value)));
    worker.postMessage({ call: mine, name, args });
  });
  await ask("open", await WebAssembly.compile(await (await fetch("/app/tubwright.wasm")).arrayBuffer()), "en");
  await ask("lines");
  const text = await ask("ask", tub, question, false);
  worker.terminate();
  return text;
}, [tub, question]);

/** The page's own time is this from now on. */
export const clock = (page, at) => page.clock.setFixedTime(new Date(at));

/** What a test compares of an entry: not who wrote it, when it was typed and what it is called. */
const NAMED = new Set(["id", "tub", "writer", "n", "prev", "entered", "by", "role", "sample"]);
const plain = (value) => (/^-?\d+(\.\d+)?$/.test(value) ? String(Number(value)) : value);
export const said = (entry) => JSON.stringify(Object.entries(entry).filter(([name]) => !NAMED.has(name)).map(([name, value]) => [name, name === "at" ? Date.parse(value) : plain(value)]).sort());

/** The list of what can be written. */
async function choose(page, name) {
  await tap(page, "log");
  await tap(page, "change");
  await page.locator("main a.row").filter({ has: page.getByText(name, { exact: true }) }).first().click();
}

const NAMES = { strip: "Strips", drops: "Drops", meter: "Meter", thermometer: "Thermometer", laboratory: "Laboratory", monitor: "Monitor" };
const ANALYTES = { ph: "pH", "total-alkalinity": "alkalinity" };
const KINDS = { addition: "Something was added", setting: "A setting was changed", exchange: "Water let in or out", care: "A care job", source: "Source water", volume: "Volume, measured", plate: "Plate of the equipment",
  stock: "Stock on hand", part: "A part", tub: "Name and rough volume", note: "A note" };

/** One value on the open pad: drops counted, degrees stepped, figures typed on the page's own keys. */
async function put(page, { instrument, value, step, analyte }) {
  const pad = page.locator("section.pad.open");
  const key = (name) => pad.getByRole("button", { name }).first();
  if (instrument === "drops" && step) {
    if ((await pad.locator("select").inputValue()) !== String(Number(step))) await pad.locator("select").selectOption(String(Number(step)));
    const count = Math.round(Number(value) / Number(step));
    for (let i = 0; i < Math.floor(count / 5); i++) await key("+5").click();
    for (let i = 0; i < count % 5; i++) await key(/^\+1/).click();
  } else if (analyte === "temperature") {
    for (let degrees = 37; degrees !== Number(value); degrees += degrees < value ? 0.5 : -0.5) await key(degrees < value ? /^\+½/ : /^−½/).click();
  } else for (const figure of value) await key(figure).click();
  await key("set").click();
}

/** Readings of one instrument at one moment. */
async function read(page, readings) {
  const [{ instrument, source }] = readings;
  await choose(page, source ? `${NAMES[instrument]} · ${source}` : NAMES[instrument]);
  for (const reading of readings) {
    const name = ANALYTES[reading.analyte] ?? reading.analyte.replace(/-/g, " ");
    const row = page.locator(".pad:not(.open) > button.row").filter({ has: page.getByText(name, { exact: true }) });
    const open = page.locator(`section.pad.open[aria-label="${name}"]`);
    await open.or(row).waitFor();
    if (await row.isVisible()) await row.click();
    await put(page, reading);
  }
  await page.getByRole("button", { name: /^LOG/ }).last().click();
}

/** Any other entry, in its form. */
async function fill(page, entry) {
  await page.locator("main form button.next").waitFor();
  for (const [name, value] of Object.entries(entry)) {
    if (NAMED.has(name) || name === "kind" || name === "at") continue;
    const input = page.locator(`#f-${name}`);
    if (!(await input.isVisible())) await page.locator("main form summary").first().click();
    if ((await input.evaluate((node) => node.tagName)) === "SELECT") await input.selectOption(value);
    else await input.fill(value);
  }
  await page.locator("main form button.next").click();
}

/** Replies to the questions of the card. */
async function reply(page, entries) {
  await tap(page, "now");
  await settled(page);
  const asked = page.locator("form fieldset");
  if ((await asked.count()) !== entries.length) throw new Error(`the card asks ${await asked.count()} questions and not ${entries.length}: ${await page.locator("body").innerText()}`);
  const words = { yes: "yes", no: "no", unknown: "don’t know" };
  const names = { bromine: "Bromine", biguanide: "Biguanide", silver: "Silver cartridge", copper: "Copper ioniser", monopersulfate: "Monopersulfate", ozone: "Ozone still on", circulation: "Water at every jet, no leak", electrician: "Supply and trip checked" };
  for (const { question, reply: is } of entries) await asked.filter({ hasText: names[question] }).getByRole("button", { name: words[is], exact: true }).click();
  await tap(page, "LOG");
}

/** Entries of one kind at one moment, by taps from wherever the page is. Resolves when they are on the device. */
export async function enter(page, entries) {
  const [{ kind, at }] = entries;
  await clock(page, at);
  const before = (await rows(page)).length;
  if (kind === "tub") {
    await tap(page, "New tub");
    await fill(page, entries[0]);
  } else if (kind === "reading") await read(page, entries);
  else if (kind === "reply") await reply(page, entries);
  else {
    await choose(page, KINDS[kind]);
    await fill(page, entries[0]);
  }
  if (!(await until(async () => (await rows(page)).length === before + entries.length))) throw new Error(`not written: ${JSON.stringify(entries)}\n${await page.locator("body").innerText()}`);
}

/** A story's entries as they are entered together: readings of one dip, replies to one card, all else by itself. */
export function acts(entries) {
  const found = [];
  for (const entry of entries) {
    const last = found[found.length - 1];
    const [before] = last ?? [];
    const together = before && before.at === entry.at && before.kind === entry.kind &&
      (entry.kind === "reply" || (entry.kind === "reading" && before.instrument === entry.instrument && before.source === entry.source && last.every(({ analyte }) => analyte !== entry.analyte)));
    if (together) last.push(entry);
    else found.push([entry]);
  }
  return found;
}
