// Other units on a device: card, water, pad and forms are in them, and what is typed is an entry in the unit that stood beside it; shown again in it, it is what
// was typed. Nothing that is stored changes with the choice.
//
// usage: node units.mjs BASE PROGRAM LOGBOOK NOW [PICTURES]   (WORDS: the page's sentences by language)
import { execFileSync } from "node:child_process";
import { mkdirSync, readFileSync } from "node:fs";
import { Claims, device, settled, start, tap, until, visit } from "./browser.mjs";
import { rows } from "./by_taps.mjs";
import { axe, measure } from "./seen.mjs";

const [, , base, program, logbook, now, pictures] = process.argv;
const texts = JSON.parse(readFileSync(process.env.WORDS, "utf8"));
const claims = new Claims();
const told = (language, ...words) => JSON.parse(execFileSync(program, ["-l", logbook, "-t", "Barn", "--at", now, "--json", "--language", language, ...words], { encoding: "utf8" }));
const browser = await start();
if (pictures) mkdirSync(pictures, { recursive: true });
const US = "degF,gal-us,oz";

for (const language of ["en", "de"]) {
  const say = (id) => texts[language][id];
  const point = language === "de" ? "," : ".";
  const { page, context, faults } = await device(browser, { base, at: now, locale: language === "en" ? "en-GB" : language, serviceWorkers: "block" });
  await page.getByRole("link", { name: /Barn/ }).first().waitFor();
  await settled(page);
  await page.route("**/api/entries", (route) => (route.request().method() === "POST" ? route.abort() : route.continue())); // each language begins with the same book
  const tub = (await page.locator("a.line").first().getAttribute("href")).split("/")[1];
  const said = async () => (await page.locator("main").first().innerText()).replace(/\s+/g, " ");
  const wrong = [];
  async function looked(name, sizes = ["390x844", "320x568", "1280x800"]) {
    const seen = await page.evaluate(measure);
    wrong.push(...(await axe(page)), ...seen.small, ...seen.wide);
    for (const size of pictures ? sizes : []) {
      const [width, height] = size.split("x").map(Number);
      await page.setViewportSize({ width, height });
      await settled(page);
      await page.screenshot({ path: `${pictures}/units-${name}-${language}-${size}.png` });
    }
    if (pictures) await page.setViewportSize({ width: 390, height: 844 });
  }
  const before = await rows(page);
  for (const [name, word] of [["units-temperature", "degF"], ["units-volume", "gal-us"], ["units-weight", "oz"]]) {
    await visit(page, "#/settings");
    await Promise.all([page.waitForEvent("load"), page.getByLabel(say(name)).selectOption(word)]);
    await settled(page);
  }
  await looked("settings");
  claims.add((await page.getByLabel(say("units-weight")).inputValue()) === "oz", `${language}: the choice stays on the device`);
  await visit(page, `#/${tub}/now`);
  const card = told(language, "now", "--units", US);
  const ounces = /([\d.,]+) oz/.exec(card.head.text)[1];
  const seen = await said();
  claims.add(seen.includes(`${say("verb-add")} ${ounces} oz`), `${language}: the card's amount is the terminal's ${ounces} oz`, seen);
  const sentences = [...card.first, ...card.then, ...card.why, ...card.sure].map(({ text }) => text);
  claims.add(sentences.every((text) => seen.includes(text.replace(/\s+/g, " "))), `${language}: so are its ${sentences.length} sentences`, sentences.filter((text) => !seen.includes(text)).join("\n"));
  await looked("now");
  await visit(page, `#/${tub}/water`);
  const gallons = (told(language, "water").water.volume.median / 3.785412).toFixed(0); // NIST SP 811, appendix B.8
  claims.add((await said()).includes(`${gallons} US gal`) && /\d °F/.test(await said()), `${language}: the water is in gallons and °F`, await said());
  await looked("water");

  await visit(page, `#/${tub}/log/thermometer`);
  await page.locator("section.pad.open").waitFor();
  await looked("pad");
  await page.getByRole("button", { name: /^\+½/ }).click();
  await tap(page, say("set"));
  await tap(page, say("log-all"));
  claims.add(await until(async () => (await said()).includes(`99${point}5 °F`)), `${language}: what was logged is said in it`, await said());
  const entry = (await rows(page)).map((line) => JSON.parse(line)).find(({ value, unit }) => value === "99.5" && unit === "degF");
  claims.add(entry?.analyte === "temperature", `${language}: a reading is an entry in the unit that stood beside it`, JSON.stringify(entry));
  await settled(page);
  await tap(page, say("done-differently"));
  await page.locator("form input").first().fill("3.3");
  await looked("differently", ["390x844"]);
  await tap(page, say("log-it"));
  const dose = () => rows(page).then((lines) => lines.map((line) => JSON.parse(line)).find(({ kind, amount, amount_unit }) => kind === "addition" && amount === "3.3" && amount_unit === "oz"));
  claims.add(await until(async () => Boolean(await dose())), `${language}: what was really poured is an entry in ounces`, (await rows(page)).slice(-3).join("\n"));
  await settled(page);
  await visit(page, `#/${tub}/logbook`);
  claims.add((await said()).includes(`99${point}5 °F`) && (await said()).includes(`3${point}3 oz`), `${language}: the logbook says what was typed`, (await said()).slice(-600));
  await looked("logbook");
  await visit(page, `#/${tub}/write/volume`);
  claims.add((await page.locator("#f-volume_unit").inputValue()) === "gal-us", `${language}: a form begins with the unit that was chosen`);

  await visit(page, "#/settings");
  await Promise.all([page.waitForEvent("load"), page.getByLabel(say("units-weight")).selectOption("g")]);
  await settled(page);
  await visit(page, `#/${tub}/water`);
  claims.add(/\d US gal/.test(await said()), `${language}: one choice goes, the others stay`, await said());
  const after = new Set(await rows(page));
  claims.add(before.length > 10 && before.every((line) => after.has(line)), `${language}: what was stored before is stored as it was`);
  claims.add(wrong.length === 0, `${language}: no fault by axe-core, nothing too small or too wide`, wrong.join("\n"));
  claims.add(faults.length === 0, `${language}: the page had no fault`, faults);
  await context.close();
}
await browser.close();
claims.report();
