// A lid link leads into the page: one tub, in its role, on a phone that never saw it.
//
// usage: node lid.mjs BASE PROGRAM LOGBOOK NOW   (the server asks who somebody is)
import { execFileSync } from "node:child_process";
import { Claims, device, settled, start, tap, until } from "./browser.mjs";
import { rows } from "./by_taps.mjs";

const [, , base, program, logbook, now] = process.argv;
const claims = new Claims();
const run = (...words) => execFileSync(program, ["-l", logbook, ...words], { encoding: "utf8", stdio: ["ignore", "pipe", "ignore"] });
const written = () => run("export").trim().split("\n").map((line) => JSON.parse(line));
const link = run("serve", "lid", "add", "tester", "--tub", "Barn", "--hours", "8760");
const barn = written().find(({ name }) => name === "Barn").tub;
const browser = await start();
const { page, faults } = await device(browser, { base: `${base}lid#${/\/lid#([0-9a-f]+)/.exec(link)[1]}`, at: now });
await page.getByRole("heading", { name: "Barn" }).waitFor();
await settled(page);
claims.add(page.url() === `${base}#/${barn}/now`, "it leads into the page, at its tub; the secret is gone from the address", page.url());
const seen = (await rows(page)).map((line) => JSON.parse(line).tub);
claims.add(seen.length > 10 && seen.every((tub) => tub === barn), "the phone has the entries of that tub and of no other", new Set(seen).size);
const told = JSON.parse(run("now", "--json", "--tub", "Barn", "--at", now));
claims.add((await page.locator("main").innerText()).includes(told.why[0].text), "its card is the terminal's", await page.locator("main").innerText());

// Five pads, the second between two blocks: as many taps as there are, and what a practised thumb takes for them: 1.1 s to point at
// each (Card, Moran and Newell 1983, the keystroke-level model).
const POINT_S = 1.1;
const before = written().length;
const began = Date.now();
let taps = 1; // the tub, in the round
await tap(page, "log"); taps++;
for (const key of ["3", "between", /7\.2 and 7\.8$/, "120", "120", "0"]) {
  await page.locator("section.pad.open").getByRole("button", { name: key, exact: true }).click(); taps++;
}
await tap(page, "LOG"); taps++;
await page.getByText("Logged").first().waitFor();
claims.add(taps <= 10 && (taps - 1) * POINT_S <= 10, `five pads in ${taps - 1} taps (at most nine) and ${((taps - 1) * POINT_S).toFixed(1)} s by hand; one between two blocks in one more`);
console.log(`# of it the page: ${((Date.now() - began) / 1000).toFixed(1)} s`);
claims.add(await until(() => written().length === before + 5), "what a tester reads reaches the server", written().length - before);
claims.add(faults.length === 0, "the page had no fault", faults);
await browser.close();
claims.report();
