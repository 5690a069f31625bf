// What the server does not take stands on the entry and above the card of its tub, with why and what to do, in the page's language; it is sent again, kept here
// or written anew, and is never lost. What the server does not do at all is said by the problem's name, never by the server's title.
//
// usage: node refused.mjs BASE PROGRAM LOGBOOK NOW [PICTURES]   (the server asks who somebody is; WORDS: the tables)
import { execFileSync } from "node:child_process";
import { mkdirSync, readFileSync } from "node:fs";
import { Claims, device, settled, start, tap, until, visit } from "./browser.mjs";
import { rows } from "./by_taps.mjs";
import { axe, measure } from "./seen.mjs";

const [, , base, program, logbook, now, pictures] = process.argv;
const { texts, problems, faults } = JSON.parse(readFileSync(process.env.WORDS, "utf8"));
const claims = new Claims();
const run = (...words) => execFileSync(program, ["-l", logbook, ...words], { encoding: "utf8", stdio: ["ignore", "pipe", "ignore"] });
const onServer = () => run("export").trim().split("\n").map((line) => JSON.parse(line));
const barn = onServer().find(({ name }) => name === "Barn").tub;
const browser = await start();
if (pictures) mkdirSync(pictures, { recursive: true });

const SIZES = ["1280x800", "320x568", "390x844"];
/** A view has no fault by axe-core at any size; pictures where they are wanted. */
async function looked(page, name) {
  const wrong = [];
  for (const size of SIZES) {
    const [width, height] = size.split("x").map(Number);
    await page.setViewportSize({ width, height });
    await settled(page);
    const seen = await page.evaluate(measure);
    wrong.push(...(await axe(page)), ...seen.small, ...seen.wide);
    await page.evaluate(() => document.querySelector(".refused")?.scrollIntoView({ block: "center" }));
    if (pictures) await page.screenshot({ path: `${pictures}/${name}-${size}.png` });
  }
  return wrong;
}

/** All that is said on a page, in one line. */
const said = async (page) => (await page.locator("body").innerText()).replace(/\s+/g, " ");
const until_said = async (page, words) => (await until(async () => (await said(page)).includes(words))) ? "" : `${words}\n${await said(page)}`;

/** Write what a form has: the amount of a dose, or a note. */
async function write(page, kind, words, say) {
  await visit(page, `#/${barn}/write/${kind}`);
  if (kind === "note") await page.locator("textarea").fill(words);
  else {
    await page.locator("#f-substance").selectOption("sodium-bisulfate-93");
    await page.locator("#f-amount").fill(words);
  }
  await tap(page, say("log-it"));
  await until(async () => page.url().endsWith("/now"));
  await settled(page);
}

for (const language of Object.keys(texts)) {
  const say = (id, args = {}) => texts[language][id].replace(/\{([a-z_]+)\}/g, (_, name) => String(args[name]));
  const link = /\/lid#([0-9a-f]+)/.exec(run("serve", "lid", "add", "tester", "--tub", "Barn", "--hours", "8760"))[1];
  const { page, faults: thrown, context } = await device(browser, { base: `${base}lid#${link}`, at: now, locale: language === "en" ? "en-GB" : language, serviceWorkers: "block" });
  claims.add(!(await until_said(page, "Barn")), `${language}: a lid link leads to its tub`, `${page.url()} ${await said(page)}`);
  await settled(page);

  // A dose by somebody who only tests.
  const before = onServer().length;
  const dose = `${language === "en" ? 11 : 12}`;
  await write(page, "addition", dose, say);
  const why = say("refused-not-of-role");
  claims.add(!(await until_said(page, why)), `${language}: the tub says that an entry is not taken, and why`, await until_said(page, why));
  const nowWrong = await looked(page, `refused-now-${language}`);
  claims.add(nowWrong.length === 0, `${language}: that card has no fault`, nowWrong.join("\n"));
  await write(page, "note", `seen by a tester ${language}`, say);
  claims.add(await until(() => onServer().length === before + 1), `${language}: what a tester may write goes on all the same`, onServer().length - before);
  await visit(page, `#/${barn}/now`);
  await page.getByRole("link", { name: say("refused-what-to-do") }).click();
  await page.getByRole("button", { name: say("refused-send") }).waitFor();
  const line = page.locator(".line", { hasText: say("refused-keep") });
  const text = (await line.innerText()).replace(/\s+/g, " ");
  claims.add([`${dose} g`, say("state-refused"), why, say("refused-do-sign-in")].every((words) => text.includes(words)), `${language}: its line says what, refused, why, and what to do`, text);
  const lineWrong = await looked(page, `refused-line-${language}`);
  claims.add(lineWrong.length === 0, `${language}: that line has no fault`, lineWrong.join("\n"));

  // Kept here; then sent again, and refused again.
  await tap(page, say("refused-keep"));
  claims.add(await until(async () => (await page.locator(".line", { hasText: say("state-kept") }).count()) === 1), `${language}: kept here only, it says so`, await said(page));
  await page.reload();
  await settled(page);
  claims.add((await said(page)).includes(say("state-kept")) && !(await said(page)).includes(why), `${language}: that stays over a reload, and nobody is asked again`, await said(page));
  claims.add((await rows(page)).filter((row) => JSON.parse(row).amount === dose).length === 1, `${language}: the entry is on the device`);
  await tap(page, say("refused-send"));
  claims.add(await until(async () => (await said(page)).includes(say("state-refused")) && (await said(page)).includes(why)), `${language}: sent again it is refused again`, await said(page));

  // Somebody who may.
  await visit(page, "#/settings");
  await page.getByText(say("sign-in-other")).click();
  const sign = async (passphrase) => {
    await page.getByLabel(say("name"), { exact: true }).fill("ann");
    await page.getByLabel(say("passphrase")).fill(passphrase);
    await page.getByRole("button", { name: say("sign-in"), exact: true }).click();
  };
  await sign("not this one");
  await page.getByRole("alert").waitFor();
  claims.add((await page.getByRole("alert").innerText()) === say("problem-passphrase"), `${language}: a wrong passphrase is said in the language`, await page.getByRole("alert").innerText());
  await sign("a fixed passphrase");
  claims.add(await until(() => onServer().some(({ amount }) => amount === dose)), `${language}: signed in as somebody who may, what was refused reaches the server by itself`, await said(page));
  claims.add(onServer().filter(({ amount }) => amount === dose).length === 1, `${language}: once`);
  await visit(page, `#/${barn}/now`);
  claims.add(await until(async () => !(await said(page)).includes(why)), `${language}: the tub says nothing of it any more`, await said(page));

  // A server whose program knows less: its words stand beside the page's own sentence.
  await page.route("**/api/entries", (route) => (route.request().method() === "POST"
    ? route.fulfill({ contentType: "application/json", body: JSON.stringify({ results: (route.request().postData() ?? "").trim().split("\n").map(() => ({ taken: "refused", reason: "above", sentence: "amount: 13 is too high" })) }) }) : route.continue()));
  await write(page, "addition", "13", say);
  await page.getByRole("link", { name: say("refused-what-to-do") }).click();
  await page.getByRole("button", { name: say("refused-anew") }).waitFor();
  const fault = await said(page);
  claims.add([say("refused-range"), "amount: 13 is too high", say("refused-do-anew")].every((words) => fault.includes(words)), `${language}: a fault of form says which kind, the server's words, and what to do`, fault);
  await page.unroute("**/api/entries");
  await page.getByRole("button", { name: say("refused-anew") }).click();
  await page.locator("#f-amount").waitFor();
  claims.add(await until(async () => page.url().endsWith("/write/addition")), `${language}: entered anew: its form stands there`, page.url());
  await visit(page, `#/${barn}/logbook`);
  claims.add((await page.locator(".line s", { hasText: "13 g" }).count()) === 1 && (await said(page)).includes(say("state-kept")), `${language}: the old one stays, struck through, on this device`, await said(page));

  // What the server does not do at all: every problem that it knows, by its name.
  const silent = [];
  for (const [kind, status] of Object.entries(problems)) {
    const own = texts[language][`problem-${kind}`] ?? say(status < 500 ? "problem-of-page" : "problem-of-server", { code: `${status}, ${kind}` });
    await page.route("**/api/session", (route) => route.fulfill({ status, contentType: "application/problem+json", body: JSON.stringify({ type: `urn:tubwright:problem:${kind}`, title: "a title of the server", status }) }));
    await page.evaluate(() => dispatchEvent(new Event("online")));
    const missed = await until_said(page, own);
    if (missed) silent.push(missed);
    if ((await said(page)).includes("a title of the server")) silent.push(`${kind}: the server's title`);
    await page.unroute("**/api/session");
  }
  claims.add(silent.length === 0, `${language}: ${Object.keys(problems).length} problems of the server are said in the language`, silent.join("\n"));
  claims.add(thrown.length === 0, `${language}: the page had no fault`, thrown);
  await context.close();

  // A link that opens nothing leads into the page, which says so.
  const shut = await device(browser, { base: `${base}lid#${"0".repeat(64)}`, at: now, locale: language === "en" ? "en-GB" : language });
  claims.add(!(await until_said(shut.page, say("problem-lid"))), `${language}: a lid link that opens nothing says so`, await said(shut.page));
  await shut.context.close();
}
const lacking = [...new Set([...Object.values(faults), "other", "other-tub", "not-of-role", "other-role", "not-allowed", "altered"])].filter((reason) => !(`refused-${reason}` in texts.en));
claims.add(lacking.length === 0, "every reason of a refusal has its sentence", lacking);
await browser.close();
claims.report();
