// The page's core on memory that threads share, where the host says that the page stands alone, and without: the same card.
//
// usage: node threads.mjs BASE PROGRAM LOGBOOK NOW
import { readFileSync, readdirSync } from "node:fs";
import { createServer } from "node:http";
import { Claims, device, kept, settled, start, until, visit } from "./browser.mjs";

const [, , base, , , now] = process.argv;
const claims = new Claims();
const browser = await start();

/** A host that gives what the server gives, but says nothing about who else may be in the page's process. */
const host = createServer(async ({ url, headers: { accept = "*/*" } }, reply) => {
  const { status, headers, body } = await fetch(new URL(url, base), { headers: { accept } });
  reply.writeHead(status, Object.fromEntries([...headers].filter(([name]) => !/^cross-origin|content-(encoding|length)|transfer-encoding/.test(name))));
  for await (const part of body ?? []) reply.write(part);
  reply.end();
});
await new Promise((ready) => host.listen(0, "127.0.0.1", ready));
const elsewhere = `http://127.0.0.1:${host.address().port}/`;

/** A device's card of a tub, as its own core worked it out, and how many workers its page has. */
async function cardOf({ page }) {
  await page.getByRole("link", { name: /Deck/ }).first().waitFor();
  await settled(page);
  const id = await page.evaluate(() => [...document.querySelectorAll("a.line")].find((a) => a.querySelector(".text b").textContent === "Deck").hash.split("/")[1]);
  await visit(page, `#/${id}/now`);
  const card = await page.evaluate((key) => new Promise((good) => (indexedDB.open("tubwright").onsuccess = ({ target }) =>
    (target.result.transaction("facts").objectStore("facts").get(key).onsuccess = ({ target: got }) => { target.result.close(); good(JSON.stringify(got.result?.answer)); }))), `card:${id}`);
  return { card, alone: await page.evaluate(() => crossOriginIsolated) };
}

const at = now;
const served = await device(browser, { base, at });
const shared = await cardOf(served);
claims.add(shared.alone && served.page.workers().length >= 2, "served by the program the page stands alone", shared);
claims.add(shared.card?.includes('"act"'), "and has a card", shared.card);

// Opened again with a card of before nothing is worked out; the pad alone says that there will be.
await kept(served.page);
await served.page.reload();
await settled(served.page);
const { processInfo } = await (await browser.newBrowserCDPSession()).send("SystemInfo.getProcessInfo");
const renderers = processInfo.filter(({ type }) => type === "renderer").map(({ id }) => id);
const threads = () => Math.max(...renderers.map((id) => readdirSync(`/proc/${id}/task`).filter((task) => readFileSync(`/proc/${id}/task/${task}/comm`, "utf8").startsWith("DedicatedWorker")).length));
const hands = await served.page.evaluate(() => Math.min(4, navigator.hardwareConcurrency, Math.ceil(navigator.deviceMemory ?? 4)));
const [deck] = await served.page.evaluate(() => [...document.querySelectorAll("a.line")].map(({ hash }) => hash.split("/")[1]));
const before = threads();
await visit(served.page, `#/${deck}/log/thermometer`);
const wanted = 2 * hands; // who writes and who answers; the helpers of two cores
claims.add(await until(() => threads() === wanted), `a pad that opens calls the helpers of both cores: ${wanted} workers of ${hands} processors`, `${before}, then ${threads()}`);

const plain = await device(browser, { base: elsewhere, at });
const single = await cardOf(plain);
claims.add(!single.alone, "under a host that does not say so it has memory of its own");
claims.add(single.card === shared.card, "and the same card, byte for byte", [single.card, shared.card].join("\n"));

await kept(plain.page);
await plain.page.reload();
await settled(plain.page);
claims.add(await plain.page.evaluate(() => crossOriginIsolated), "opened again the service worker says it");
claims.add(served.faults.length + plain.faults.length === 0, "nothing went wrong", [...served.faults, ...plain.faults].join("\n"));
await browser.close();
host.close();
claims.report();
