// How the page stands when something is missing: nothing written, not opened yet, no server, an entry refused, no storage, no program. Each says what is
// so, what is not lost, and what to do; none has a fault by axe-core.
//
// usage: node states.mjs BASE PROGRAM LOGBOOK NOW [PICTURES]
import { mkdirSync } from "node:fs";
import { Claims, device, settled, start, tap, until } from "./browser.mjs";
import { axe, measure } from "./seen.mjs";

const [, , base, , , now, pictures] = process.argv;
const claims = new Claims();
const browser = await start();
if (pictures) mkdirSync(pictures, { recursive: true });

/** A fresh device whose network does something of its own from the first request on. */
async function standing(name, prepare, act, words) {
  const { page, context } = await device(browser, { base: "about:blank", at: now, serviceWorkers: "block" });
  await prepare(page, context);
  await page.goto(base, { waitUntil: "commit" });
  await act(page, context);
  const said = await until(async () => page.locator("body").innerText().then((text) => words.every((word) => word.test(text)), () => false));
  claims.add(said, `${name}: ${words.map(String).join(" ")}`, await page.locator("body").innerText());
  const seen = await page.evaluate(measure);
  const found = [...(await axe(page)), ...seen.small, ...seen.wide];
  claims.add(found.length === 0, `${name}: no fault by axe-core, nothing too small or too wide`, found.join("\n"));
  for (const look of pictures ? ["day", "dusk"] : []) {
    await page.evaluate((to) => (document.documentElement.dataset.look = to), look);
    if (name === "refused") await page.evaluate(() => scrollTo(0, document.body.scrollHeight));
    await page.screenshot({ path: `${pictures}/state-${name}-${look}-390x844.png` });
  }
  await context.close();
}

const none = async () => {};
const opened = (page) => until(async () => (await page.locator("h1").count()) > 0);
const first = async (page) => {
  await page.getByRole("link", { name: /Barn/ }).first().waitFor();
  await settled(page);
};

await standing("empty", (page) => page.route("**/api/**", (route) => route.fulfill({ status: 404, contentType: "text/html", body: "" })), opened, [/BEGIN WITH A NAME/, /New tub/, /only copy is on this device/]);
let release = none;
await standing("loading", (page) => page.route("**/tubwright.wasm", (route) => new Promise((go) => (release = () => go(route.continue())))), opened, [/Opening the logbook/]);
await release();
await standing("offline", none, async (page) => {
  await first(page);
  await page.route("**/api/**", (route) => route.abort());
  await page.locator("a.line", { hasText: "Barn" }).click();
  await page.evaluate(() => (location.hash = location.hash.replace(/now$/, "write/note")));
  await page.locator("textarea").fill("no signal");
  await tap(page, "LOG");
  await until(async () => page.url().endsWith("/now"));
  await page.evaluate(() => (location.hash = "#/"));
  await settled(page);
}, [/server does not answer/, /One entry is on this device alone/]);
await standing("refused", none, async (page) => {
  await first(page);
  await page.route("**/api/entries", (route) => (route.request().method() === "POST"
    ? route.fulfill({ contentType: "application/json", body: JSON.stringify({ results: (route.request().postData() ?? "").trim().split("\n").map(() => ({ taken: "refused", sentence: "The writer is not known here." })) }) }) : route.continue()));
  await page.locator("a.line", { hasText: "Barn" }).click();
  await page.evaluate(() => (location.hash = location.hash.replace(/now$/, "write/note")));
  await page.locator("textarea").fill("two phones disagree");
  await tap(page, "LOG");
  await until(async () => page.url().endsWith("/now"));
  await page.evaluate(() => (location.hash = location.hash.replace(/now$/, "logbook")));
  await settled(page);
  await page.evaluate(() => scrollTo(0, document.body.scrollHeight));
}, [/two phones disagree/, /refused/, /The server refuses one entry/]);
await standing("storage-lost", (page) => page.route("**/app/book.js", async (route) => {
  const response = await route.fetch();
  await route.fulfill({ response, body: `indexedDB.open = () => { throw new Error("this window keeps nothing"); };\n${await response.text()}` });
}), opened, [/THE LOGBOOK CANNOT BE OPENED/, /not lost/, /keeps nothing/, /Try again/]);
await standing("program-lost", (page) => page.route("**/tubwright.wasm", (route) => route.abort()), opened, [/THE PROGRAM DID NOT ARRIVE WHOLE/, /Nothing is lost/, /Try again/]);
await browser.close();
claims.report();
