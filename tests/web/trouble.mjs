// Over TLS at a name of its own: a page from an authority that this device trusts, a server that is killed in the middle and comes back.
//
// usage: node trouble.mjs BASE PROGRAM LOGBOOK CERT KEY   (BASE: a server without TLS; this script begins its own)
import { execFileSync, spawn } from "node:child_process";
import { Claims, device, kept, settled, start, tap, until } from "./browser.mjs";

const [, , , program, logbook, cert, key] = process.argv;
const claims = new Claims();
const NAME = "tub.test";

/** A server on this port (0: a free one) that is killed, not ended. */
function serve(port) {
  const child = spawn(program, ["-l", logbook, "serve", "--json", "--port", String(port), "--cert", cert, "--key", key, "--hosts", NAME], { stdio: ["ignore", "pipe", "inherit"] });
  return new Promise((good, bad) => {
    child.stdout.once("data", (data) => good({ child, port: Number(JSON.parse(data.toString()).address.split(":").pop()) }));
    child.once("exit", (code) => bad(new Error(`the server ended with ${code}`)));
  });
}
const killed = ({ child }) => new Promise((gone) => { child.removeAllListeners("exit"); child.once("exit", gone); child.kill("SIGKILL"); });
const lines = () => execFileSync(program, ["-l", logbook, "export"], { encoding: "utf8", stdio: ["ignore", "pipe", "ignore"] }).trim().split("\n").filter(Boolean);

let server = await serve(0);
const base = `https://${NAME}:${server.port}/`;
const browser = await start([`--host-resolver-rules=MAP ${NAME} 127.0.0.1`]);
const phone = await device(browser, { base, at: "2026-03-24T09:00:00+01:00", trusting: false });
const { page } = phone;
await page.getByText("BEGIN WITH A NAME").waitFor();
claims.add(await page.evaluate(() => isSecureContext && "serviceWorker" in navigator && "locks" in navigator), "over TLS at a name of its own the page is secure, by an authority that the device trusts");
await tap(page, "New tub");
await page.getByLabel("The name people use").fill("Deck");
await tap(page, "Begin");
await settled(page);
await kept(page);
claims.add(await until(() => lines().length === 1), "the tub is on the server", lines());

await killed(server);
await page.reload();
await settled(page);
for (const [at, value] of [["09:10", 2], ["09:20", 3], ["09:30", 4]]) {
  await page.clock.setFixedTime(new Date(`2026-03-24T${at}:00+01:00`));
  await page.evaluate(() => (location.hash = `#/${location.hash.split("/")[1]}/log/thermometer`));
  await page.locator("section.pad.open").waitFor();
  for (let i = 0; i < value; i++) await page.getByRole("button", { name: /^\+½/ }).click();
  await tap(page, "set");
  await tap(page, "LOG");
  await page.getByText("Logged").first().waitFor();
  await page.evaluate(() => dispatchEvent(new Event("online")));
}
claims.add(lines().length === 1, "while it is down three readings wait on the phone");
server = await serve(server.port);
await page.evaluate(() => { for (let i = 0; i < 5; i++) dispatchEvent(new Event("online")); });
claims.add(await until(() => lines().length === 4), "it comes back and has them once each, though the page was told five times that the network is back", lines());
await killed(server);
server = await serve(server.port);
await page.evaluate(() => dispatchEvent(new Event("online")));
await page.waitForTimeout(1000);
claims.add(lines().length === 4 && new Set(lines()).size === 4, "killed and begun again: nothing twice");
claims.add(phone.faults.length === 0, "the page had no fault", phone.faults);
await killed(server);
await browser.close();
claims.report();
