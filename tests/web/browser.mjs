// Headless Chromium for the tests of the page: one browser, fresh devices, a clock that the test sets.
import { createRequire } from "node:module";

const require = createRequire(new URL("../../web/package.json", import.meta.url));
const { chromium } = require("playwright-core");
export const axeSource = require.resolve("axe-core/axe.min.js");

const FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"];

/** The browser; its home is where it keeps which authorities it trusts. */
export const start = (flags = []) => chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: [...FLAGS, ...flags],
  env: { ...process.env, ...(process.env.BROWSER_HOME ? { HOME: process.env.BROWSER_HOME } : {}) } });

/** A device with an empty logbook of its own. Faults of its pages are kept in `faults`. */
export async function device(browser, { base, at, size = "390x844", look = "day", trusting = true, locale = "en-GB", ...more }) {
  const [width, height] = size.split("x").map(Number);
  const context = await browser.newContext({ viewport: { width, height }, timezoneId: "Europe/Berlin", locale, colorScheme: look === "dusk" ? "dark" : "light", ignoreHTTPSErrors: trusting, ...more });
  const page = await context.newPage();
  const faults = [];
  page.on("pageerror", (fault) => faults.push(fault.message));
  page.on("console", (line) => line.type() === "error" && !/Failed to load resource/.test(line.text()) && faults.push(line.text()));
  await page.clock.install({ time: new Date(at) });
  await page.goto(base);
  return { context, page, faults, base };
}

/** Look again until it is so; true when it was so in time. From here, since the page's own clock is the test's. */
export async function until(so, seconds = 20) {
  for (const end = Date.now() + 1000 * seconds; Date.now() < end; await new Promise((next) => setTimeout(next, 50))) if (await so()) return true;
  return false;
}

/** Wait until what is shown is worked out from what is written. The page as it arrives has a heading already, and no main part. */
export async function settled(page) {
  const done = () => page.evaluate(() => Boolean(document.querySelector("h1") && document.querySelector("main")) && !document.querySelector(".working, [aria-busy=true]")).catch(() => false);
  if (!(await until(done, 60))) throw new Error(`${page.url()} is not worked out\n${await page.locator("body").innerText()}`);
}

/** Go to a place of the page, and wait until it stands there. */
export async function visit(page, hash) {
  await page.evaluate((to) => location.hash === to || new Promise((good) => {
    addEventListener("hashchange", good, { once: true }); // the page's own listener came first
    location.hash = to;
  }).then(() => {}), hash);
  await settled(page);
}

/** Wait until the page is kept for times without signal. */
export const kept = (page) => until(() => page.evaluate(async () => Boolean((await navigator.serviceWorker.getRegistration())?.active)));

/** Press a key of this name. Where it does not come the page says what stood there instead. */
export async function tap(page, name) {
  await page
    .getByRole("button", { name, exact: true })
    .or(page.getByRole("link", { name, exact: true }))
    .first()
    .click()
    .catch(async (fault) => {
      throw new Error(`${fault.message}\n${page.url()}\n${await page.locator("body").innerText().catch(String)}`);
    });
}

/** Claims as TAP. */
export class Claims {
  lines = [];
  add(good, claim, said = "") {
    this.lines.push([Boolean(good), claim, said]);
  }
  report() {
    console.log(`1..${this.lines.length}`);
    this.lines.forEach(([good, claim, said], i) => {
      console.log(`${good ? "ok" : "not ok"} ${i + 1} - ${claim}`);
      if (!good) console.log(String(typeof said === "string" ? said : JSON.stringify(said)).split("\n").slice(0, 20).map((line) => `# ${line}`).join("\n"));
    });
    process.exit(this.lines.length > 0 && this.lines.every(([good]) => good) ? 0 : 1);
  }
}
