// For every reader: the order in which a page is read, headings and landmarks, news that is told, letters twice as large, colours of the reader's own, motion spared.
//
// usage: node readers.mjs BASE PROGRAM LOGBOOK NOW [PICTURES]
import { execFileSync } from "node:child_process";
import { mkdirSync } from "node:fs";
import { Claims, device, settled, start, tap, until, visit } from "./browser.mjs";
import { axe, measure, outOfOrder, skeleton } from "./seen.mjs";

const [, , base, program, logbook, now, pictures] = process.argv;
const claims = new Claims();
const browser = await start();
if (pictures) mkdirSync(pictures, { recursive: true });

const VIEWS = [["", "round"], ["", "settings"], ["", "new"], ["Barn", "now"], ["Barn", "log"], ["Barn", "log/drops"], ["Barn", "log/choose"], ["Barn", "water"], ["Barn", "why"], ["Barn", "more"], ["Barn", "plan"],
  ["Barn", "worth"], ["Barn", "ahead"], ["Barn", "waters"], ["Barn", "set-up"], ["Barn", "parts"], ["Barn", "write/addition"], ["Garden", "now"], ["Loft", "now"], ["Deck", "now"], ["Deck", "forecast"], ["Deck", "sheet"], ["Deck", "logbook"], ["Deck", "bathing"]];

async function idsOf(page) {
  await page.getByRole("link", { name: /Barn/ }).first().waitFor();
  await settled(page);
  return page.evaluate(() => Object.fromEntries([...document.querySelectorAll("a.line")].map((a) => [a.querySelector(".text b").textContent, a.hash.split("/")[1]])));
}

async function each(page, views, look) {
  const ids = await idsOf(page);
  for (const [tub, view] of views) {
    await visit(page, tub ? `#/${ids[tub]}/${view}` : `#/${view === "round" ? "" : view}`);
    await look(`${tub} ${view}`.trim(), ids[tub]);
  }
}

{
  const { page, faults, context } = await device(browser, { base, at: now });
  const order = [], bones = [];
  await each(page, VIEWS, async (name) => {
    order.push(...(await page.evaluate(outOfOrder)).map((what) => `${name}: ${what}`));
    bones.push(...(await page.evaluate(skeleton)).map((what) => `${name}: ${what}`));
  });
  claims.add(order.length === 0, `${VIEWS.length} views are read in the order in which they are seen`, order.join("\n"));
  claims.add(bones.length === 0, "each has one heading of its own, no level left out, one head, one body, and its name in the title", bones.join("\n"));
  // The test can fail: a page whose order was turned is found out.
  await page.evaluate(() => Object.assign(document.querySelector(".body").style, { display: "flex", flexDirection: "column-reverse" }));
  claims.add((await page.evaluate(outOfOrder)).length > 0, "a page turned upside down is found out");
  await context.close();

  // On a desk the card and another view lie side by side: one of them is the page, the other beside it.
  const desk = await device(browser, { base, at: now, size: "1280x800" });
  const sides = [], faulty = [];
  await each(desk.page, [["", "round"], ["Deck", "now"], ["Garden", "now"], ["Deck", "forecast"], ["Deck", "sheet"], ["Barn", "log"], ["Barn", "logbook"], ["Barn", "why"], ["Barn", "write/addition"]], async (name) => {
    sides.push(...(await desk.page.evaluate(skeleton)).map((what) => `${name}: ${what}`));
    if (name !== "round" && (await desk.page.locator("aside").count()) !== 1) sides.push(`${name}: nothing beside`);
    faulty.push(...(await axe(desk.page)).map((what) => `${name}: ${what}`));
  });
  claims.add(sides.length === 0, "on a desk one of two pages is the main one, and the other has a name", sides.join("\n"));
  claims.add(faulty.length === 0, "axe-core finds nothing on a desk", faulty.join("\n"));
  await desk.context.close();

  const other = await device(browser, { base, at: now });
  const ids = await idsOf(other.page);
  await other.page.evaluate((to) => (location.hash = to), `#/${ids.Barn}/now`);
  await settled(other.page);
  const live = () => other.page.evaluate(() => [...document.querySelectorAll("[aria-live=polite]")].map((node) => node.textContent).join(" "));
  const before = await live();
  await other.page.evaluate(() => {
    window.told = [];
    new MutationObserver((changes) => changes.forEach(({ target }) => (target.nodeType === 3 ? target.parentElement : target).closest?.("[aria-live=polite]") && window.told.push(target.textContent)))
      .observe(document.body, { childList: true, characterData: true, subtree: true });
  });
  await tap(other.page, "Done");
  claims.add(before.includes("ADD") && (await until(async () => (await live()) !== before)) && (await other.page.evaluate(() => window.told.length)) > 0, "a new act is told by a live region that stood there before", `${before} -> ${await live()}`);
  claims.add(faults.length + other.faults.length === 0, "no page had a fault", [...faults, ...other.faults]);
  await other.context.close();
}

// Letters twice as large, as a person sets them in the browser.
for (const size of ["390x844", "1280x800"]) {
  const { page, context } = await device(browser, { base, at: now, size });
  await (await context.newCDPSession(page)).send("Page.setFontSizes", { fontSizes: { standard: 32, fixed: 32 } });
  await page.reload();
  const cut = [], order = [];
  await each(page, size === "390x844" ? VIEWS : VIEWS.filter(([tub, view]) => ["round", "now", "forecast", "sheet"].includes(view) || view === "log"), async (name) => {
    const { wide, type } = await page.evaluate(measure);
    cut.push(...wide.map((what) => `${name}: ${what}`), ...(type < 24 ? [`${name}: letters of ${type} px`] : []));
    cut.push(...(await page.evaluate(() => [...document.querySelectorAll("main *, header *, nav *")].filter((node) => node.childElementCount === 0 && node.textContent.trim() && !node.closest("svg, .scroll, .hidden, select") &&
      node.scrollWidth > node.clientWidth + 2 && getComputedStyle(node).overflow !== "visible" && getComputedStyle(node).display !== "inline").map((node) => node.textContent.slice(0, 30)))).map((what) => `${name}: cut off ${what}`));
    if (size === "390x844") order.push(...(await page.evaluate(outOfOrder)).map((what) => `${name}: ${what}`));
    if (pictures) await page.screenshot({ path: `${pictures}/large-${name.replace(/[ /]/g, "-")}-${size}.png` });
  });
  claims.add(cut.length === 0, `${size}: with letters twice as large nothing is cut and nothing sticks out`, cut.join("\n"));
  claims.add(order.length === 0, `${size}: and the order is the same`, order.join("\n"));
  await context.close();
}

// Colours of the reader's own.
{
  const { page, context } = await device(browser, { base, at: now, forcedColors: "active" });
  const lost = [], found = [];
  await each(page, [["Loft", "now"], ["Barn", "now"], ["Barn", "log"], ["Deck", "forecast"], ["Deck", "logbook"], ["Garden", "now"]], async (name) => {
    found.push(...(await axe(page)).map((what) => `${name}: ${what}`));
    lost.push(...(await page.evaluate(() => {
      const ink = getComputedStyle(document.body).color, gone = [];
      for (const node of document.querySelectorAll(".key:not(:disabled)")) if (getComputedStyle(node).borderTopStyle !== "solid" || getComputedStyle(node).borderTopColor === getComputedStyle(document.documentElement).backgroundColor) gone.push(`the edge of ${node.textContent}`);
      for (const node of document.querySelectorAll("svg .stroke, svg line[stroke='var(--ink)']")) if (getComputedStyle(node).stroke !== ink) gone.push(`a line of the drawing: ${getComputedStyle(node).stroke}, ink ${ink}`);
      for (const node of document.querySelectorAll("svg text")) if (getComputedStyle(node).fill !== ink) gone.push(`words of the drawing: ${node.textContent}`);
      const here = document.querySelectorAll(".words a[aria-current]"), others = [...document.querySelectorAll(".words a:not([aria-current])")];
      if (here.length === 1 && others.some((node) => getComputedStyle(node).borderTopColor === getComputedStyle(here[0]).borderTopColor)) gone.push("which view is open");
      for (const node of document.querySelectorAll(".wait .rest")) if (!getComputedStyle(node).backgroundImage.includes("gradient")) gone.push("the hatch of the wait");
      return gone;
    })).map((what) => `${name}: ${what}`));
    if (pictures) await page.screenshot({ path: `${pictures}/forced-${name.replace(/[ /]/g, "-")}.png` });
  });
  claims.add(lost.length === 0, "in the reader's own colours keys keep their edges, drawings their lines, the wait its hatch", lost.join("\n"));
  claims.add(found.length === 0, "and axe-core finds nothing", found.join("\n"));
  await context.close();
}

// Motion spared: the wait counts by the minute.
for (const [reducedMotion, runs] of [["no-preference", true], ["reduce", false]]) {
  const { page, context } = await device(browser, { base, at: now, reducedMotion });
  const ids = await idsOf(page);
  await page.evaluate((to) => (location.hash = to), `#/${ids.Loft}/now`);
  await settled(page);
  const timer = page.getByRole("timer");
  const first = await timer.innerText();
  await page.clock.runFor(5000);
  const second = await timer.innerText();
  await page.clock.runFor(61000);
  const third = await timer.innerText();
  claims.add(runs ? /\d s$/.test(first) && first !== second : !/\bs$/.test(first) && first === second, runs ? "a wait is counted by the second" : "where motion is spared by the minute", `${first}, ${second}`);
  claims.add(third !== second, `${reducedMotion}: a minute later it is a minute less`, `${second}, ${third}`);
  await context.close();
}
// The forecast: a drag does what the keys do, and the figures are the terminal's.
{
  const { page, context } = await device(browser, { base, at: now });
  const ids = await idsOf(page);
  await page.evaluate((to) => (location.hash = to), `#/${ids.Deck}/forecast`);
  await settled(page);
  await page.locator(".drag.side").waitFor();
  await page.locator(".drag.side").scrollIntoViewIfNeeded();
  const lane = await page.locator(".drag.side").boundingBox();
  const y = Math.max(lane.y, 60) + 40;
  await page.mouse.move(lane.x + lane.width - 18, y);
  await page.mouse.down();
  await page.mouse.move(lane.x + 34, y, { steps: 4 });
  await page.mouse.up();
  const figure = () => page.locator(".stepper .figure").first().innerText();
  claims.add(await until(async () => /^[2-6][05] %$/.test(await figure())), "a drag in its lane sets the duty, by fives", await figure());
  await settled(page);
  const duty = parseInt(await figure());
  await tap(page, "as a table");
  const cells = await page.locator("main tbody tr").evaluateAll((rows) => rows.map((row) => [...row.querySelectorAll("td")].map((cell) => cell.textContent)));
  const { hours } = JSON.parse(execFileSync(program, ["-l", logbook, "-t", "Deck", "--at", now, "forecast", "--hours", "48", "--step", "1", "--json", `0h:duty=${duty}%`], { encoding: "utf8" }));
  const one = (value) => value.toFixed(1);
  const theirs = hours.map((row) => [one(row.fc.median), `${one(row.fc.low)}–${one(row.fc.high)}`, one(row.fc_remnant.median), one(row.fc_made.median), one(row.fc_same), String(row.duty), one(row.fan_ph.median)]);
  claims.add(JSON.stringify(cells) === JSON.stringify(theirs) && cells.length === 49, "and the table has the terminal's figures for that plan, hour by hour", `${cells[10]} | ${theirs[10]}`);
  await context.close();
}
await browser.close();
claims.report();
