// What the page takes on a start-up's logbook. A browser slows the page down by a factor for this, but not its workers; what the workers take is
// multiplied by the same factor here.
//
// usage: node page.mjs BASE PROGRAM LOGBOOK NOW   (started by bench/page.py) prints "name number" lines
import { device, kept, settled, start, tap } from "../tests/web/browser.mjs";

const [, , base, , , now] = process.argv;
const SLOWER = 4;
const browser = await start();
const { page, context } = await device(browser, { base, at: now });
await page.getByRole("link", { name: /Barn/ }).first().waitFor();
await settled(page);
await kept(page);
const id = await page.evaluate(() => [...document.querySelectorAll("a.line")].find((a) => a.textContent.includes("Barn")).hash.split("/")[1]);
// A fixed piece of work, for ratios.
const loop = await page.evaluate(() => { const from = performance.now(); let x = 0; for (let i = 0; i < 3e7; i++) x = (x * 31 + i) % 1000003; return performance.now() - from + (x < 0 ? 1 : 0); });
const tell = (name, ms) => console.log(`${name}_ms ${ms.toFixed(1)}\n${name}_ratio ${(ms / loop).toFixed(3)}`);
const slow = await context.newCDPSession(page);
const at = (hash) => page.evaluate((to) => (location.hash = to), hash);

// One strip, slowed down: the entry, then the new card.
await at(`#/${id}/log/thermometer`);
await page.locator("section.pad.open").waitFor();
await tap(page, "set");
await slow.send("Emulation.setCPUThrottlingRate", { rate: SLOWER });
const took = await page.evaluate(async () => {
  const real = performance.now.bind(performance);
  const from = real();
  [...document.querySelectorAll("button")].find((key) => key.textContent === "LOG").click();
  const until = async (good) => { while (!good()) await new Promise((next) => { const channel = new MessageChannel(); channel.port1.onmessage = next; channel.port2.postMessage(0); }); return real() - from; };
  const shown = await until(() => document.body.textContent.includes("Logged"));
  const advised = await until(() => document.querySelector("main[aria-busy=false]") && !document.querySelector(".working"));
  return { shown, advised };
});
tell("page_entry_shown_slowed", took.shown);
tell("page_advice_slowed", took.shown + (took.advised - took.shown) * SLOWER);
await slow.send("Emulation.setCPUThrottlingRate", { rate: 1 });

// Opened again: first words from the service worker (with the driver's own time), slowed down; the card from what was kept.
await at(`#/${id}/now`);
await settled(page);
await slow.send("Emulation.setCPUThrottlingRate", { rate: SLOWER });
const reloaded = Date.now();
await page.reload({ waitUntil: "commit" });
await page.waitForSelector("h1");
tell("page_first_words_slowed", Date.now() - reloaded);
await settled(page);
await slow.send("Emulation.setCPUThrottlingRate", { rate: 1 });
await browser.close();
