// A start-up from an empty page to the handover by taps, over TLS at a name of its own, with all that happens on the way: no signal, a server that
// is killed, a second phone, a clock an hour fast, a newer program, storage that is wiped. No entry is lost or doubled, and every answer has
// the terminal's bytes.
//
// usage: node start_up.mjs BASE PROGRAM LOGBOOK STORY NEWER CERT KEY SIZE HOURS   (STORY: lines as the terminal wrote them; NEWER: a program whose page is newer;
// HOURS: how far)
import { execFileSync, spawn } from "node:child_process";
import { readFileSync, rmSync } from "node:fs";
import { Claims, device, kept, settled, start, tap, until } from "./browser.mjs";
import { acts, answer, clock, enter, rows, said } from "./by_taps.mjs";

const [, , , program, logbook, story, newer, cert, key, size, hours] = process.argv;
const NAME = "tub.test";
const claims = new Claims();
const wanted = readFileSync(story, "utf8").trim().split("\n").map((line) => JSON.parse(line));
const began = Date.parse(wanted[0].at);
const hour = ({ at }) => (Date.parse(at) - began) / 3600_000;
// The card's questions of the same moment are answered before anything else is written.
const first = ({ kind }) => (kind === "tub" ? 0 : kind === "reply" ? 1 : 2);
const steps = acts(wanted.map((entry, i) => [entry, i]).sort(([a, i], [b, j]) => Date.parse(a.at) - Date.parse(b.at) || first(a) - first(b) || i - j).map(([entry]) => entry)).filter(([entry]) => hour(entry) <= Number(hours));
const env = { ...process.env, TZ: "Europe/Berlin" };

// ---- the server: begun, killed, begun again, as this program or as a newer one --------------------------------------

let server = null;
async function serve(by = program, port = server?.port ?? 0) {
  const child = spawn(by, ["-l", logbook, "serve", "--json", "--port", String(port), "--cert", cert, "--key", key, "--hosts", NAME], { stdio: ["ignore", "pipe", "inherit"], env });
  const address = await new Promise((good, bad) => {
    child.stdout.once("data", (data) => good(JSON.parse(data.toString()).address));
    child.once("exit", (code) => bad(new Error(`the server ended with ${code}`)));
  });
  server = { child, port: Number(address.split(":").pop()) };
}
const kill = () => new Promise((gone) => { server.child.removeAllListeners("exit"); server.child.once("exit", gone); server.child.kill("SIGKILL"); });
process.on("exit", () => server?.child.kill("SIGKILL"));
const lines = () => execFileSync(program, ["-l", logbook, "export"], { encoding: "utf8", env, stdio: ["ignore", "pipe", "ignore"] }).trim().split("\n").filter(Boolean).sort();

// ---- phones ---------------------------------------------------------------------------------------------------------

await serve();
const base = `https://${NAME}:${server.port}/`;
const browser = await start([`--host-resolver-rules=MAP ${NAME} 127.0.0.1`]);
const phones = [];
async function phone(at) {
  const made = await device(browser, { base, at, size, trusting: false });
  phones.push(made);
  return made;
}
const back = (page) => page.evaluate(() => dispatchEvent(new Event("online")));

/** The page's answer and the terminal's, on the same entries at the same hour. */
async function same(page, at, words) {
  const mine = await rows(page);
  const aside = `${logbook}.aside`;
  for (const rest of ["", "-wal", "-shm", "-access"]) rmSync(aside + rest, { force: true });
  execFileSync(program, ["-l", aside, "import", "-"], { input: mine.join("\n") + "\n", env, stdio: ["pipe", "ignore", "ignore"] });
  const tub = JSON.parse(mine[0]).tub;
  const differ = [];
  for (const word of words) {
    let told;
    try {
      told = execFileSync(program, ["-l", aside, word, "--json", "--tub", tub, "--at", at], { encoding: "utf8", env });
    } catch (stopped) {
      told = stopped.stdout;
    }
    const phoneSays = await answer(page, tub, `${word} at=${at} as=json tub=${tub}`);
    if (told.length < 100 || told !== phoneSays) differ.push(`${word} at ${at}: ${told.slice(0, 200)} | ${phoneSays.slice(0, 200)}`);
  }
  return differ;
}

// ---- the start-up -----------------------------------------------------------------------------------------------------

let differing = [];
let compared = 0;
let taken = 0;

/** The story up to this hour on this phone. */
async function upTo(last, { page }) {
  for (; taken < steps.length && hour(steps[taken][0]) <= last; taken++) await enter(page, steps[taken]);
}

/** A note beside the story, at an hour of this phone's own clock. */
async function note({ page }, h) {
  const mine = { kind: "note", at: new Date(began + h * 3600_000).toISOString(), words: "lid is cracked" };
  steps.splice(taken++, 0, [mine]);
  await enter(page, [mine]);
}
const written = () => steps.slice(0, taken).flat().length;
async function compare({ page }, h, words = ["now"]) {
  const at = new Date(began + h * 3600_000);
  await clock(page, at);
  differing.push(...(await same(page, `${new Date(at.getTime() + 3600_000).toISOString().slice(0, 19)}+01:00`, words)));
  compared += words.length;
}
const has = (page, count) => until(async () => (await rows(page)).length === count);
const whole = Number(hours) > 100;
const when = whole ? { silent: 0.65, killed: 2.75, mine: 3.55, theirs: 4.35, together: 6.25, fast: 6.3, newer: 7.85, wiped: 8.9 }
  : { silent: 0.2, killed: 0.55, mine: 0.6, theirs: 0.65, together: 0.65, fast: 0.66, newer: 0.7, wiped: 0.7 };

const a = await phone(wanted[0].at);
await a.page.getByText("BEGIN WITH A NAME").waitFor();
claims.add(await a.page.evaluate(() => isSecureContext && "serviceWorker" in navigator), "an empty page over TLS, by an authority that the device trusts");
await enter(a.page, steps[taken++]);
await kept(a.page);
claims.add(await until(() => lines().length === 1), "the tub is on the server");

await a.context.setOffline(true);
await upTo(when.silent, a);
await a.page.reload();
await settled(a.page);
await compare(a, when.silent, ["now", "water", "plan"]);
claims.add(lines().length === 1 && (await rows(a.page)).length === written(), `without signal from the second step: ${written()} entries on the phone, one on the server`);

await kill();
await a.context.setOffline(false);
await a.page.reload();
await upTo(when.killed, a);
await serve();
await back(a.page);
claims.add(await until(() => lines().length === written()), "the server was killed and comes back: it has every entry once", lines().length);

const b = await phone(new Date(began + when.killed * 3600_000));
await b.page.getByRole("link", { name: /Lodge/ }).first().click();
claims.add(await has(b.page, written()), "a second phone has them too");
await kept(b.page);
for (const { context } of [a, b]) await context.setOffline(true);
await upTo(when.mine, a);
await upTo(when.theirs, b);
for (const { context } of [a, b]) await context.setOffline(false);
for (const { page } of [a, b]) await back(page);
claims.add(await until(async () => (await has(a.page, written())) && (await has(b.page, written())) && lines().length === written()), "both wrote without signal: merged, each has all", [await rows(a.page), await rows(b.page)].map((all) => all.length));
await compare(a, when.theirs);
await compare(b, when.theirs);
await upTo(when.together, a);

claims.add(await has(b.page, written()), "the second phone hears of each");
await note(b, when.fast + 1);
claims.add(await has(a.page, written()), "what a phone with a clock an hour fast wrote reaches the other");
await compare(a, when.fast + 0.05);
await upTo(when.newer, a);

// A newer program: it waits, with a pad half done; it is taken when somebody says so.
await kill();
await serve(newer);
const caches = () => a.page.evaluate(async () => (await self.caches.keys()).join());
const [before, older] = [await rows(a.page), await caches()];
await tap(a.page, "log");
await tap(a.page, "change");
await a.page.getByText("Thermometer", { exact: true }).click();
await tap(a.page, "set");
await a.page.reload();
await settled(a.page);
await a.page.evaluate(async () => (await navigator.serviceWorker.getRegistration()).update());
await a.page.getByText("A newer version waits.").waitFor();
claims.add((await caches()).split(",").includes(older), "a newer program waits; the older one is still there");
await tap(a.page, "take it now");
await until(async () => !(await caches().catch(() => older)).split(",").includes(older));
await settled(a.page);
claims.add((await a.page.getByText(/Begun \d\d:\d\d, 1 of 1/).count()) === 1 && JSON.stringify(await rows(a.page)) === JSON.stringify(before), "it is taken when somebody asks: the entries and the pad half done are there", await a.page.locator("body").innerText());
await tap(a.page, "begin again");
await upTo(when.wiped, a);

await until(() => lines().length === written());
const session = await a.context.newCDPSession(a.page);
await a.page.goto("about:blank");
await session.send("Storage.clearDataForOrigin", { origin: base.slice(0, -1), storageTypes: "all" });
await a.page.goto(base);
claims.add(await has(a.page, written()), `a wiped phone has all ${written()} entries again`, (await rows(a.page)).length);
await a.page.getByRole("link", { name: /Lodge/ }).first().click();
await settled(a.page);

for (const h of [9.35, 10.75, 34.8, 82.75, 154.85, 214.8, Number(hours)].filter((h) => h <= Number(hours))) {
  await upTo(h, a);
  await compare(a, h, h === Number(hours) ? ["now", "water", "why", "sheet", "forecast"] : ["now"]);
}
claims.add(differing.length === 0, `${compared} answers have the terminal's bytes`, differing.join("\n"));
await settled(a.page);
await back(a.page);
await back(b.page);
claims.add(await until(async () => JSON.stringify(await rows(b.page)) === JSON.stringify(lines()) && JSON.stringify(await rows(a.page)) === JSON.stringify(lines())), "server and both phones have the same bytes");
const [is, should] = [lines().map((line) => JSON.parse(line)).map(said).sort(), steps.flat().map(said).sort()];
claims.add(JSON.stringify(is) === JSON.stringify(should), `${should.length} entries as the story has them: none lost, none doubled`, [...is.filter((entry) => !should.includes(entry)), "---", ...should.filter((entry) => !is.includes(entry))].join("\n"));
claims.add(phones.every(({ faults }) => faults.length === 0), "no page had a fault", phones.flatMap(({ faults }) => faults));
await kill();
await browser.close();
claims.report();
