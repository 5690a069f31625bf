// Every view in both looks: no fault by axe-core, nothing wider than the screen, nothing to touch that is smaller than a thumb,
// headings and words in reading order. With a folder it leaves a picture of each.
//
// usage: node views.mjs BASE PROGRAM LOGBOOK NOW [PICTURES]
//
// With WORDS in the environment, a file of test_languages.py: in that language, by day, and nothing English is left in it.
import { mkdirSync, readFileSync } from "node:fs";
import { Claims, device, settled, start, visit } from "./browser.mjs";
import { axe, measure, TAGS } from "./seen.mjs";

const [, , base, , , now, pictures] = process.argv;
const claims = new Claims();
const browser = await start();
const words = process.env.WORDS ? JSON.parse(readFileSync(process.env.WORDS, "utf8")) : { language: "en", called: {}, english: [] };
const called = (english) => words.called[english] ?? english;
const VIEWS = ["now", "log", "log/drops", "log/meter", "log/thermometer", "log/choose", "water", "why", "more", "plan", "worth", "ahead", "parts", "waters", "set-up",
  "write/addition", "write/setting", "write/exchange", "write/tub", "write/definition"];
// Of other tubs: what the first one does not show.
const OTHERS = [["Garden", "now", "stopped"], ["Loft", "now", "wait"], ["Deck", "now", "not-proven"], ["Deck", "forecast", "forecast"], ["Deck", "forecast", "forecast-other"], ["Deck", "forecast", "forecast-table"],
  ["Deck", "sheet", "sheet"], ["Barn", "logbook", "logbook"], ["Deck", "bathing", "bathing"]];
/** What is pressed in a view before it is looked at. */
const PRESSED = { log: ["between"], "forecast-other": ["less duty", "more guests", "more guests"], "forecast-table": ["as a table"] };
const ABOVE = ["", "settings", "new"];
const SIZES = pictures ? ["390x844", "320x568", "1280x800"] : ["390x844", "320x568"];

/** What is shown, or read aloud, that one of these patterns is all of. */
const left = (english) => {
  const patterns = english.map((source) => new RegExp(source, "u"));
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const shown = [...document.querySelectorAll("[aria-label]")].map((node) => node.getAttribute("aria-label"));
  while (walker.nextNode()) shown.push(walker.currentNode.data);
  return [...new Set(shown.map((text) => text.trim()).filter((text) => patterns.some((pattern) => pattern.test(text))))];
};

for (const look of words.language === "en" ? ["day", "dusk"] : ["day"]) {
  for (const size of SIZES) {
    if (look === "dusk" && size !== "390x844" && !pictures) continue; // its colours stand at every width, its widths are the day's
    const { page, faults, context } = await device(browser, { base, at: now, look, size, locale: words.language === "en" ? "en-GB" : words.language });
    await page.getByRole("link", { name: /Barn/ }).first().waitFor();
    await settled(page);
    const tubs = await page.evaluate(() => Object.fromEntries([...document.querySelectorAll("a.line")].map((a) => [a.querySelector("b + span, .text b")?.closest("a").querySelector(".text b").textContent, a.hash.split("/")[1]])));
    const places = [...ABOVE.map((view) => [`#/${view}`, view || "round"]), ...VIEWS.map((view) => [`#/${tubs.Barn}/${view}`, view]), ...OTHERS.map(([tub, view, name]) => [`#/${tubs[tub]}/${view}`, name])];
    const found = { axe: [], small: [], wide: [], type: [], english: [] };
    for (const [hash, name] of places) {
      await visit(page, hash);
      for (const button of PRESSED[name] ?? []) await page.getByRole("button", { name: called(button), exact: true }).click();
      await settled(page);
      if (size === "390x844") {
        const violations = await axe(page);
        found.axe.push(...violations.map((what) => `${name}: ${what}`));
      }
      const seen = await page.evaluate(measure);
      found.small.push(...seen.small.map((what) => `${name}: ${what}`));
      found.wide.push(...seen.wide.map((what) => `${name}: ${what}`));
      if (words.english.length > 0) found.english.push(...(await page.evaluate(left, words.english)).map((text) => `${name}: ${text}`));
      if (seen.type < 12) found.type.push(`${name}: ${seen.type}`);
      if (pictures) {
        mkdirSync(pictures, { recursive: true });
        if (name === "logbook") await page.evaluate(() => scrollBy(0, document.querySelector(".tie")?.getBoundingClientRect().top - 200)); // to what was taken back
        await page.screenshot({ path: `${pictures}/${name.replace("/", "-")}-${look}-${size}.png` });
        if (name === "sheet" && look === "day" && size === "390x844") { // as A4 has it, at 96 px an inch
          await page.emulateMedia({ media: "print" });
          await page.setViewportSize({ width: 704, height: 1050 });
          await page.screenshot({ path: `${pictures}/sheet-paper.png` });
          await page.emulateMedia({ media: "screen" });
          await page.setViewportSize({ width: 390, height: 844 });
        }
      }
    }
    if (size === "390x844") claims.add(found.axe.length === 0, `${look}: axe-core finds nothing in ${places.length} views (${TAGS.join(", ")})`, found.axe.join("\n"));
    claims.add(found.small.length === 0, `${look} ${size}: nothing to touch is under 48 px`, found.small.join("\n"));
    claims.add(found.wide.length === 0, `${look} ${size}: nothing sticks out sideways`, found.wide.join("\n"));
    claims.add(found.type.length === 0, `${look} ${size}: no word under 12 px`, found.type.join("\n"));
    if (words.language !== "en") {
      claims.add(found.english.length === 0, `${look} ${size}: nothing of ${words.english.length} English words and sentences is left`, found.english.join("\n"));
      claims.add((await page.evaluate(() => document.documentElement.lang)) === words.language, `${look} ${size}: the page says that it is ${words.language}`);
    }
    claims.add(faults.length === 0, `${look} ${size}: no page had a fault`, faults);
    await context.close();
  }
}
await browser.close();
claims.report();
