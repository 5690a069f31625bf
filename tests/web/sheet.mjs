// The handover sheet as a browser prints it, from the look of dusk: A4 and letter.
//
// usage: node sheet.mjs BASE PROGRAM LOGBOOK NOW FOLDER
import { device, settled, start } from "./browser.mjs";

const [, , base, , , now, folder] = process.argv;
const browser = await start();
const { page, context } = await device(browser, { base, at: now, look: "dusk", size: "390x844" });
await page.getByRole("link", { name: /Deck/ }).first().click();
await settled(page);
await page.evaluate(() => (location.hash = location.hash.replace(/now$|$/, "").replace(/\/?$/, "/sheet")));
await page.getByRole("button", { name: "Print the sheet" }).waitFor();
await settled(page);
for (const format of ["A4", "Letter"]) await page.pdf({ path: `${folder}/${format}.pdf`, format, preferCSSPageSize: false });
await context.close();
await browser.close();
