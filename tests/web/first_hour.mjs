// A tub from nothing by taps: name, questions, source water, purge, fill, a strip, the first dose; then without signal and back.
//
// usage: node first_hour.mjs BASE PROGRAM LOGBOOK   (a server at BASE shares LOGBOOK; PROGRAM answers from it at the terminal)
import { execFileSync } from "node:child_process";
import { Claims, device, kept, settled, start, tap, until } from "./browser.mjs";
import { answer, rows } from "./by_taps.mjs";

const [, , base, program, logbook] = process.argv;
const claims = new Claims();
const browser = await start();
const at = "2026-03-24T09:00:00+01:00";
const phone = await device(browser, { base, at });
const { page } = phone;
const terminal = (...words) => execFileSync(program, ["-l", logbook, ...words], { encoding: "utf8", env: { ...process.env, TZ: "Europe/Berlin" } });
const head = () => page.locator("main h2").first().innerText();

await page.getByText("BEGIN WITH A NAME").waitFor();
claims.add(true, "an empty book shows the first act");
let inputs = 0;
await tap(page, "New tub"); inputs++;
await page.getByLabel("The name people use", { exact: false }).fill("Barn"); inputs++;
await page.getByLabel("Rough volume", { exact: false }).fill("1180"); inputs++;
await tap(page, "Begin"); inputs++;
await settled(page);
// By the keystroke-level model (Card, Moran and Newell 1983): 1.1 s to point and 1.35 s to think at each input, 1.2 s a key for
// somebody who does not know the keys; half a minute to read the two pages.
const hand = inputs * (1.1 + 1.35) + "Barn1180".length * 1.2 + 30;
claims.add((await head()).includes("WHAT WAS IN THE LAST WATER") && inputs <= 7 && hand <= 180, `useful advice after ${inputs} inputs (at most 7) and about ${Math.round(hand)} s (at most 180)`, await head());
const tub = page.url().split("/")[4];

for (const group of await page.locator("fieldset").all()) await group.getByRole("button", { name: "no", exact: true }).click();
await tap(page, "LOG");
await page.getByText("NAME THE SOURCE WATER").waitFor();
await settled(page);
await tap(page, "Write it down");
await page.getByLabel("Name of the source water", { exact: false }).first().fill("supply");
await page.getByLabel("Where it comes from", { exact: false }).selectOption("mains");
await tap(page, "LOG");
await page.getByText("TEST THE SOURCE WATER").waitFor();
await settled(page);
await tap(page, "Write it down");
for (const value of ["7.7", "190", "90", "0.02", "0.02", "0.02", "0.1"]) {
  for (const figure of value) await page.getByRole("button", { name: figure, exact: true }).click();
  await tap(page, "set");
}
await tap(page, "LOG");
await page.getByText("PURGE THE PIPES").waitFor();
await settled(page);
claims.add(true, "source water read by keys alone leads to the purge");
await tap(page, "Done");
await page.getByText("FILL TO THE WORKING LINE").waitFor();
await settled(page);
await page.clock.setFixedTime(new Date("2026-03-24T10:30:00+01:00"));
await tap(page, "Write it down");
await page.getByLabel("Water let in", { exact: false }).first().fill("1180");
await page.getByLabel("Name of the source water", { exact: false }).first().fill("supply");
await tap(page, "LOG");
await page.getByText("WATER AT EVERY JET").first().waitFor();
await settled(page);

// The server's answer at the terminal is the phone's, byte for byte.
async function same(claim, word) {
  await page.evaluate(() => dispatchEvent(new Event("online")));
  await until(async () => terminal("export").trim().split("\n").length === (await rows(page)).length);
  const now = "2026-03-24T10:30:00+01:00";
  let told = "";
  try {
    told = terminal(word, "--json", "--tub", "Barn", "--at", now);
  } catch (fault) {
    told = fault.stdout ?? String(fault);
  }
  const phoneSays = await answer(page, tub, `${word} at=${now} as=json tub=${tub}`);
  claims.add(told === phoneSays, claim, `${told.slice(0, 300)}\n---\n${phoneSays.slice(0, 300)}`);
}
await same("the card has the terminal's bytes", "now");
await same("the water has the terminal's bytes", "water");

// Without signal: the page opens from the service worker, entries are kept, and reach the server when it is back.
await kept(page);
await page.reload();
await settled(page);
await phone.context.setOffline(true);
await page.reload();
await settled(page);
claims.add((await head()).includes("WATER AT EVERY JET"), "without signal the page opens and answers", await head());
const before = terminal("export").trim().split("\n").length;
// From the round: the tub, log, five pads, LOG.
await page.evaluate(() => (location.hash = "#/"));
await page.getByRole("link", { name: /Barn/ }).first().waitFor();
const began = Date.now();
let taps = 0;
await page.getByRole("link", { name: /Barn/ }).first().click(); taps++;
await tap(page, "log"); taps++;
for (const key of ["3", "7.2", "120", "120", "0"]) {
  await page.locator("section.pad.open").getByRole("button", { name: key, exact: true }).click(); taps++;
}
await tap(page, "LOG"); taps++;
await page.getByText("Logged").first().waitFor();
const seconds = (Date.now() - began) / 1000;
claims.add(taps <= 9, `a strip of five pads from the round: ${taps} taps (at most 9)`);
console.log(`# that took a quick hand ${seconds.toFixed(1)} s`);
await settled(page);
claims.add(terminal("export").trim().split("\n").length === before, "the strip is on the phone alone");
await tap(page, "logbook");
await settled(page);
claims.add((await page.locator(".line", { hasText: /^(?!.*(sealed|on the server)).*only here/s }).locator("button.said").count()) === 5, "five entries say that they are only here", await page.locator("main").innerText());
await phone.context.setOffline(false);
await page.evaluate(() => dispatchEvent(new Event("online")));
await until(async () => (await page.locator(".state").allInnerTexts()).every((state) => state === "sealed"));
claims.add((await page.locator(".state").allInnerTexts()).every((state) => state === "sealed"), "back with signal all are under one seal", await page.locator(".state").allInnerTexts());
claims.add(terminal("export").trim().split("\n").length === before + 5, "nothing lost, nothing doubled");
// The card that followed the strip was worked out ahead of LOG.
const shown = await page.evaluate((id) => new Promise((good) => (indexedDB.open("tubwright").onsuccess = ({ target }) =>
  (target.result.transaction("facts").objectStore("facts").get(`card:${id}`).onsuccess = ({ target: got }) => { target.result.close(); good(got.result); }))), tub);
const told = JSON.parse(terminal("now", "--json", "--tub", "Barn", "--at", shown.answer.at));
claims.add(shown.entries === before + 5 && JSON.stringify(shown.answer) === JSON.stringify(told), "the card that is shown is the terminal's", JSON.stringify(shown).slice(0, 300));

// A second phone: the same entries, the same answer; a correction of one is seen by the other.
const other = await device(browser, { base, at: "2026-03-24T10:40:00+01:00" });
await other.page.getByRole("link", { name: /Barn/ }).first().waitFor();
await other.page.evaluate((id) => (location.hash = `#/${id}/logbook`), tub);
await settled(other.page);
await other.page.getByRole("button", { name: /alkalinity 120/ }).click();
await other.page.getByLabel("It is").fill("180");
await tap(other.page, "Correct it");
await settled(other.page);
await page.clock.setFixedTime(new Date("2026-03-24T10:41:00+01:00"));
const corrected = Date.now();
await page.getByText("alkalinity 180").first().waitFor({ timeout: 20000 }).catch(() => {});
await page.locator("s", { hasText: "alkalinity 120" }).waitFor({ timeout: 20000 }).catch(() => {});
console.log(`# heard of after ${((Date.now() - corrected) / 1000).toFixed(1)} s`);
claims.add((await page.locator("s", { hasText: "alkalinity 120" }).count()) === 1, "the other phone hears of it: the old value stays, struck through", await page.locator("main").innerText());
// By the keyboard alone: pH by strip, between two blocks, one tap more.
async function reach(name) {
  for (let i = 0; i < 90; i++) {
    await other.page.keyboard.press("Tab");
    const here = await other.page.evaluate(() => document.activeElement?.textContent?.trim() ?? "");
    if (here === name || (name instanceof RegExp && name.test(here))) return other.page.keyboard.press("Enter");
  }
  throw new Error(`the keyboard does not reach ${name}`);
}
await reach("log");
await other.page.locator("section.pad.open").waitFor();
await reach("Skip pad");
await reach("between");
await reach(/7\.2 and 7\.8$/);
await reach(/^LOG 1 of 5$/);
await other.page.getByText("Logged").first().waitFor();
await settled(other.page);
claims.add(await until(async () => (await other.page.locator("main").innerText()).includes("pH between 7.2 and 7.8")), "by the keyboard alone a pad is read between two blocks", await other.page.locator("main").innerText());

// A phone whose clock is an hour fast, and whose storage is wiped afterwards.
const fast = await device(browser, { base, at: "2026-03-24T11:50:00+01:00" });
await fast.page.getByRole("link", { name: /Barn/ }).first().waitFor();
await fast.page.evaluate((id) => (location.hash = `#/${id}/log/thermometer`), tub);
await tap(fast.page, "set");
await tap(fast.page, "LOG");
await fast.page.getByText("Logged").first().waitFor();
await page.getByText("temperature 37").first().waitFor({ timeout: 20000 }).catch(() => {});
claims.add((await page.getByText("temperature 37").count()) > 0, "what a phone with a fast clock wrote reaches the others");
const whole = await rows(fast.page);
await fast.page.goto("about:blank");
await fast.context.clearCookies();
const wipe = await fast.context.newPage();
await wipe.goto(`${base}api/openapi.json`);
await wipe.evaluate(() => new Promise((good, bad) => { const request = indexedDB.deleteDatabase("tubwright"); request.onsuccess = good; request.onerror = bad; }));
await fast.page.goto(base);
await fast.page.getByRole("link", { name: /Barn/ }).first().waitFor();
await until(async () => (await rows(fast.page)).length === whole.length);
claims.add(JSON.stringify(await rows(fast.page)) === JSON.stringify(whole), `a wiped phone has all ${whole.length} entries again`);
claims.add([phone, other, fast].every(({ faults }) => faults.length === 0), "no page had a fault", [...phone.faults, ...other.faults, ...fast.faults]);
await browser.close();
claims.report();
