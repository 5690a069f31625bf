// A device chooses its language: the page, its answers and its times are in it at once, after a reload and without signal; what the card says is
// what the terminal says in it. A pack that is none leaves the page in English.
//
// usage: node language.mjs BASE PROGRAM LOGBOOK NOW LANGUAGE
import { execFileSync } from "node:child_process";
import { Claims, device, kept, settled, start, until } from "./browser.mjs";

const [, , base, program, logbook, now, language] = process.argv;
const claims = new Claims();
const browser = await start();
const { page, context, faults } = await device(browser, { base, at: now });
const said = () => page.evaluate(() => document.documentElement.lang);
const card = JSON.parse(execFileSync(program, ["-l", logbook, "-t", "Barn", "--at", now, "--json", "--language", language, "now"], { encoding: "utf8" }));
const sentences = [...card.first, ...card.then, ...card.next, ...card.why, ...card.sure, ...(card.cautions ?? [])].map(({ text }) => text);
const shows = () => page.evaluate((all) => all.filter((text) => !document.querySelector("main").textContent.includes(text)), sentences);

await page.getByRole("link", { name: /Barn/ }).first().waitFor();
claims.add((await said()) === "en", "a British device begins in English", await said());
const tub = (await page.locator("a.line").first().getAttribute("href")).split("/")[1];
await page.evaluate(() => (location.hash = "#/settings"));
await page.locator("select").last().waitFor();
await page.getByLabel("Language").selectOption(language);
claims.add(await until(async () => (await said().catch(() => "")) === language), "the settings change it", await said());
await page.evaluate((hash) => (location.hash = hash), `#/${tub}/now`);
await settled(page);
claims.add((await shows()).length === 0, `the card has the terminal's ${sentences.length} sentences`, (await shows()).join("\n"));
await page.evaluate((hash) => (location.hash = hash), `#/${tub}/write/bathers`);
await page.locator("form input").first().fill("400");
await page.locator("form input").nth(1).fill("20");
await page.locator("form .key.next").click();
const refusal = await page.getByRole("alert").first().innerText();
claims.add(/"400" ist zu hoch; erlaubt sind ganze Zahlen/.test(refusal), "what is refused is refused in it", refusal);
await page.evaluate((hash) => (location.hash = hash), `#/${tub}/now`);
await settled(page);
await kept(page);
await page.reload();
await settled(page);
claims.add((await said()) === language && (await shows()).length === 0, "it stays on the device", await said());
await context.setOffline(true);
await page.reload();
await settled(page);
claims.add((await said()) === language && (await shows()).length === 0, "it opens without signal in it", await said());
claims.add(faults.length === 0, "no page had a fault", faults);
await context.close();

const other = await browser.newContext({ locale: language, timezoneId: "Europe/Berlin", serviceWorkers: "block" });
await other.route("**/*.language", (route) => route.fulfill({ body: "tubwright language 9\0xx\0" }));
const bare = await other.newPage();
await bare.goto(base);
await bare.getByRole("link", { name: /Barn/ }).first().waitFor();
claims.add((await bare.evaluate(() => document.documentElement.lang)) === "en" && (await bare.getByText("settings", { exact: true }).count()) === 1, "a pack of another version leaves the page in English");
await browser.close();
claims.report();
