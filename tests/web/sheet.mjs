// The handover sheet as a browser prints it, from the look of dusk: A4 and letter, in English and in German (A4-de.pdf).
//
// usage: node sheet.mjs BASE PROGRAM LOGBOOK NOW FOLDER
import { device, settled, start } from "./browser.mjs";

const [, , base, , , now, folder] = process.argv;
const browser = await start();
for (const [locale, mark] of [["en-GB", ""], ["de", "-de"]]) {
  const { page, context } = await device(browser, { base, at: now, look: "dusk", size: "390x844", locale });
  await page.getByRole("link", { name: /Deck/ }).first().click();
  await settled(page);
  await page.evaluate(() => (location.hash = location.hash.replace(/now$|$/, "").replace(/\/?$/, "/sheet")));
  await page.locator(".acts button.next").waitFor();
  await settled(page);
  for (const format of ["A4", "Letter"]) await page.pdf({ path: `${folder}/${format}${mark}.pdf`, format, preferCSSPageSize: false });
  await context.close();
}
await browser.close();
