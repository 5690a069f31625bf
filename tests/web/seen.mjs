// What a page is looked at for: faults by axe-core, sizes of what is touched, width, letters, and the order in which it is read.
import { readFileSync } from "node:fs";
import { axeSource } from "./browser.mjs";

export const TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];
const source = readFileSync(axeSource, "utf8");

/** Faults by axe-core, none left out. As high as the page is: what the words at the foot cover for now can be scrolled out from under them. */
export async function axe(page) {
  const size = page.viewportSize();
  if (!(await page.evaluate(() => "axe" in window))) await page.evaluate(source);
  await page.setViewportSize({ width: size.width, height: Math.max(size.height, await page.evaluate(() => document.documentElement.scrollHeight)) });
  const { violations } = await page.evaluate((tags) => window.axe.run(document, { runOnly: tags, resultTypes: ["violations"] }), TAGS);
  await page.setViewportSize(size);
  return violations.map(({ id, nodes }) => `${id} ${nodes.slice(0, 2).map(({ html }) => html.slice(0, 120)).join(" | ")}`);
}

/** What is smaller than it may be, or sticks out of the page. */
export const measure = () => {
  const small = [];
  for (const node of document.querySelectorAll("a, button, input, select, textarea, summary")) {
    const { width, height } = node.getBoundingClientRect();
    if (width > 0 && (height < 47.5 || width < 44)) small.push(`${node.tagName} ${(node.textContent || node.id).slice(0, 30)} ${Math.round(width)}x${Math.round(height)}`);
  }
  const wide = document.documentElement.scrollWidth > innerWidth ? [...document.querySelectorAll("main *, nav *, header *")].filter((node) => node.getBoundingClientRect().right > innerWidth + 0.5 && !node.closest(".scroll")).slice(0, 3).map((node) => `${node.tagName} ${node.textContent.slice(0, 30)}`) : [];
  const type = [...document.querySelectorAll("body *")].filter((node) => node.childNodes.length > 0 && [...node.childNodes].some((child) => child.nodeType === 3 && child.textContent.trim())).map((node) => parseFloat(getComputedStyle(node).fontSize));
  return { small, wide, type: Math.min(...type) };
};

/** Where the order of the page is not the order in which it is seen: of two pieces of text that follow each other, the second may not begin higher than the
 * first, but for what stands beside it in one line. What sticks to the foot is left out; drawings are one piece. */
export const outOfOrder = () => {
  const found = [];
  let before = null;
  const walker = document.createTreeWalker(document.querySelector("#app"), NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    if (!node.textContent.trim() || node.parentElement.closest("svg, .hidden, .acts, .what-if, .words, option, [aria-hidden=true]")) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    const [box] = range.getClientRects();
    if (!box || box.width === 0) continue;
    const said = node.textContent.trim().slice(0, 30);
    if (before && box.bottom < before.box.top + 4 && box.left < before.box.right) found.push(`"${said}" is above "${before.said}"`);
    before = { said, box };
  }
  const hurried = [...document.querySelectorAll("[tabindex]")].filter((node) => node.tabIndex > 0).map((node) => `tabindex ${node.tabIndex}: ${node.textContent.slice(0, 20)}`);
  return [...found, ...hurried];
};

/** Headings and landmarks: one h1, no level left out, one head, one body, words that say which navigation it is and what lies beside. */
export const skeleton = () => {
  const found = [];
  const own = (what) => [...document.querySelectorAll(what)].filter((node) => !node.closest("aside"));
  const levels = own("h1, h2, h3, h4").map((node) => Number(node.tagName[1]));
  if (levels.filter((level) => level === 1).length !== 1 || levels[0] !== 1) found.push(`headings ${levels}`);
  levels.forEach((level, i) => i > 0 && level > levels[i - 1] + 1 && found.push(`h${levels[i - 1]} then h${level}`));
  if (document.querySelectorAll("h1").length !== 1) found.push("not one first heading");
  if (own("header").length !== 1) found.push("not one header");
  if (document.querySelectorAll("main").length !== 1) found.push("not one main");
  for (const aside of document.querySelectorAll("aside")) if (!aside.getAttribute("aria-label")) found.push("an aside without a name");
  for (const nav of document.querySelectorAll("nav")) if (!nav.getAttribute("aria-label")) found.push("a nav without a name");
  if (!document.documentElement.lang || !document.title.includes(document.querySelector("h1")?.textContent ?? "?")) found.push(`title "${document.title}"`);
  return found;
};
