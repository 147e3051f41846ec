// The page of a 300 x 300 mm sheet: its size is held, its quickness measured and told. Times are those of this machine,
// drawn without a graphics card, so none of them passes or fails.
import { statSync } from "node:fs";
import { join } from "node:path";
import { check, figure, finish, launch, open } from "./browser.mjs";

const [, , file, shots] = process.argv;
const browser = await launch();
const middle = (list) => [...list].sort((a, b) => a - b)[Math.floor(list.length / 2)];
const megabytes = statSync(file).size / 1e6;
figure("300 x 300 mm: size of the report", megabytes.toFixed(2) + " MB");
check("the report of a 300 x 300 mm sheet is at most 6 MB", megabytes <= 6);

for (const width of [1280, 390]) {
  const opened = [];
  for (let i = 0; i < 5; ++i) {
    const { page } = await open(browser, file, { width });
    opened.push(await page.evaluate(() => performance.getEntriesByType("navigation")[0].loadEventEnd));
    await page.close();
  }
  figure(`300 x 300 mm, ${width} px: time to open, middle and slowest of five`,
    `${middle(opened).toFixed(0)} ms, ${Math.max(...opened).toFixed(0)} ms`);
}

// From the click to the second frame after it, by when the first is on the screen; each layer off and on again.
const switched = (page, key) => page.evaluate(async (k) => {
  const start = performance.now();
  document.querySelector(`.key input[value="${k}"]`).click();
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  return performance.now() - start;
}, key);
for (const width of [1280, 390]) {
  const { page } = await open(browser, file, { width });
  await page.$eval("#view", (v) => v.scrollIntoView({ block: "center" }));
  const keys = await page.$$eval(".key input", (list) => list.map((i) => i.value));
  await page.waitForFunction(() => [...document.querySelectorAll(".L[data-l]")].every((l) => l.style.display === ""));
  await new Promise((done) => setTimeout(done, 1000));  // as long as a person needs to find the switch
  const first = [], later = [];
  for (const key of keys) {
    first.push(await switched(page, key), await switched(page, key));
    for (let i = 0; i < 4; ++i) later.push(await switched(page, key));
  }
  const name = `300 x 300 mm, ${width} px: layer switch`;
  figure(`${name}, first time, slowest`, Math.max(...first).toFixed(0) + " ms");
  figure(`${name}, later, middle and slowest of ${later.length}`,
    `${middle(later).toFixed(0)} ms, ${Math.max(...later).toFixed(0)} ms`);
  await page.close();
}

for (const mode of ["light", "dark"]) {
  const { page } = await open(browser, file, { mode });
  await page.screenshot({ path: join(shots, `large-1280-${mode}.png`), fullPage: true });
  await page.close();
}
await browser.close();
finish();
