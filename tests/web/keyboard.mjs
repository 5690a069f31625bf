// Every flow by keys alone: Tab to a thing, Enter or Space to press it. No pointer is used, nothing is focused by the test.
//
// usage: node keyboard.mjs BASE PROGRAM LOGBOOK NOW
import { Claims, device, settled, start, until } from "./browser.mjs";

const [, , base, , , now] = process.argv;
const claims = new Claims();
const browser = await start();
const { page, faults, context } = await device(browser, { base, at: now });
const hidden = []; // what had the focus and could not be seen

/** What has the focus, by the name it goes by. */
const focused = () => page.evaluate(() => {
  const node = document.activeElement;
  if (!node || node === document.body) return { name: "", seen: true, ring: true, tag: "" };
  const box = node.getBoundingClientRect();
  const over = document.elementFromPoint(Math.min(innerWidth - 1, Math.max(0, box.left + box.width / 2)), Math.min(innerHeight - 1, Math.max(0, box.top + Math.min(box.height / 2, 20))));
  const label = node.id && document.querySelector(`label[for="${node.id}"]`);
  return { name: (node.getAttribute("aria-label") ?? label?.textContent ?? node.closest("label")?.textContent ?? node.textContent).trim().replace(/\s+/g, " "), tag: node.tagName,
    seen: box.width === 0 || node.contains(over) || over?.contains(node), href: node.getAttribute("href") ?? "", ring: node.tagName === "H1" || getComputedStyle(node).outlineStyle !== "none" };
});

/** Tab until a thing of this name has the focus. The number of presses; 0 when it has it already. */
async function reach(name) {
  const is = (said) => (typeof name === "string" ? said === name : name.test(said));
  for (let presses = 0; presses < 90; presses++) {
    let at = await focused();
    if (!at.seen) { // a drawing that arrives while the focus moves may push it down for a moment
      await settled(page);
      await page.keyboard.press("Shift+Tab");
      await page.keyboard.press("Tab");
      at = await focused();
    }
    if (at.name && (!at.seen || !at.ring)) hidden.push(`${page.url().replace(/.*#/, "#").replace(/[0-9a-f-]{36}/, "TUB")}: ${at.name.slice(0, 40)} ${at.seen ? "has no ring" : "is covered"}`);
    if (is(at.name)) return presses;
    await page.keyboard.press("Tab");
  }
  throw new Error(`${name} cannot be reached by Tab on ${page.url()}\n${await page.locator("body").innerText()}`);
}

async function press(name, key = "Enter") {
  await settled(page); // an answer that arrives draws anew what had the focus
  await reach(name);
  const [at, from] = [await focused(), page.url()];
  await page.keyboard.press(key);
  // A link, and LOG, lead to another place: what follows begins there.
  if ((at.tag === "A" && !from.endsWith(at.href)) || /^(LOG|Begin$)/.test(at.name)) await until(async () => page.url() !== from, 10);
  await settled(page);
}

async function flow(claim, steps) {
  try {
    const good = await steps();
    claims.add(good === undefined || good, claim, page.url());
  } catch (fault) {
    claims.add(false, claim, fault.message);
  }
}
const text = () => page.locator("main").innerText();
const says = (words) => until(async () => (await page.locator("body").innerText()).includes(words));

await page.getByRole("link", { name: /Barn/ }).first().waitFor();
await settled(page);
await flow("the round to a tub, whose head has the focus then", async () => {
  await press(/^Barn|Barn ADD|.*Barn/);
  return until(async () => (await focused()).tag === "H1");
});
await flow("an act is done differently: amount typed, logged", async () => {
  const before = await text();
  await press("Done differently");
  if ((await focused()).tag !== "INPUT") await reach(/How much/);
  await page.keyboard.type("95");
  await page.keyboard.press("Enter");
  return until(async () => (await text()) !== before && !/^\s*now\s+ADD/.test(await text()));
});
await flow("five pads of a strip, then LOG: the focus goes along from pad to pad", async () => {
  await press("log");
  for (const [, key] of ["1", "7.8", "120", "250", "40"].entries()) {
    await until(async () => (await page.locator(".pad.open .key").count()) > 3);
    const offered = await page.locator(".pad.open .key").allInnerTexts();
    const wanted = offered.includes(key) ? key : offered[1];
    const steps = await reach(wanted);
    if (steps > offered.length + 60) return false;
    await page.keyboard.press("Enter");
    await settled(page);
  }
  await press("LOG");
  return says("Logged");
});
await flow("drops by + and −, temperature by halves, figures typed at a meter", async () => {
  await press("log");
  await press("change");
  await press(/^Drops/);
  await reach(/^\+1/);
  for (let i = 0; i < 3; i++) await page.keyboard.press("Enter");
  await press("set");
  await press(/^LOG 1 of/);
  await press("log");
  await press("change");
  await press(/^Meter/);
  await reach("7");
  await page.keyboard.type("7.5");
  await press("set");
  await press(/^LOG 1 of/);
  return says("7.5");
});
await flow("the logbook: filters, a line opened, taken back with a reason", async () => {
  await press("logbook");
  await press("readings", "Space");
  await press(/^pH 7\.5/);
  await reach(/What was wrong/);
  await page.keyboard.type("mistyped");
  await press("Take it back");
  return until(async () => (await page.locator("s").allInnerTexts()).some((said) => said.includes("7.5")));
});
await flow("another entry: chosen, filled in, logged", async () => {
  await press("log");
  await press("change");
  await press("A note");
  await reach(/^Your note/);
  await page.keyboard.type("by keys");
  await press("LOG");
  return says("by keys");
});
await flow("the forecast: duty and guests by keys, as a table, back", async () => {
  await press("forecast");
  const before = await text();
  await reach("less duty");
  await page.keyboard.press("Space");
  await settled(page);
  await press("more guests");
  await press("as a table");
  return (await text()) !== before && (await page.locator("main table").count()) > 0;
});
await flow("water, why, more and the sheet are reached and read", async () => {
  await press("water");
  await press("as a table");
  await press("now");
  await press("why");
  await press("now");
  await press("more");
  await press(/^Sheet/);
  return says("Signed");
});
await flow("steps of a stop are ticked by Space, and the stop ends", async () => {
  await press("now");
  await press("round");
  await press(/Garden/);
  for (const step of [/^Old floater|Old floater/, /Pipes purged/, /Drained/, /New filter/]) await press(step, "Space");
  await press("All done: LOG");
  return until(async () => !(await page.locator("body").innerText()).includes("BROMINE IN THE LAST WATER"));
});
await flow("settings: initials, look, language within reach", async () => {
  await press("round");
  await press("settings");
  await reach(/^Initials/);
  await page.keyboard.type("M.R.");
  await press("dusk", "Space");
  return page.evaluate(() => document.documentElement.dataset.look === "dusk");
});
await flow("a new tub: a name and rough litres", async () => {
  await press("round");
  await press("New tub");
  await reach(/name/i);
  await page.keyboard.type("Keys");
  await reach(/[Vv]olume/);
  await page.keyboard.type("900");
  await press("Begin");
  return until(async () => (await page.locator("h1").innerText()) === "Keys");
});
claims.add(hidden.length === 0, "what has the focus is seen, with a ring around it", [...new Set(hidden)].join("\n"));
claims.add(faults.length === 0, "no page had a fault", faults);
await context.close();
await browser.close();
claims.report();
