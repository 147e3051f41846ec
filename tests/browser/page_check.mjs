// Opens a report as a person would: reads, points, switches layers, prints; at phone and desktop size, light and dark.
import { execFileSync } from "node:child_process";
import { existsSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { check, figure, finish, launch, open } from "./browser.mjs";
import { looks } from "./looks.mjs";

const [, , file, shots, trend] = process.argv;
mkdirSync(shots, { recursive: true });
const blanks = JSON.parse(readFileSync(join(dirname(file), "blanks.json"), "utf8")).blanks;
const usable = JSON.parse(readFileSync(join(dirname(file), "usable.geojson"), "utf8"));
const browser = await launch();

// --- the file
await looks(browser, file, shots, "report", 6);

// --- time to open
{
  const { page } = await open(browser, file);
  const opened = await page.evaluate(() => performance.getEntriesByType("navigation")[0].loadEventEnd);
  figure("time to open at 1280 px", opened.toFixed(0) + " ms");
  await page.close();
}

// --- layers
{
  const { page } = await open(browser, file);
  const keys = await page.$$eval(".key input", (list) => list.map((i) => i.value));
  check("the key lists photo and ring blanks", keys.includes("photo") && keys.includes("blank"), keys.join());
  let slowest = 0;
  for (const key of keys) {
    const result = await page.evaluate(async (k) => {
      const box = document.querySelector(`.key input[value="${k}"]`), layer = document.querySelector(`.L[data-l="${k}"]`);
      const shown = () => getComputedStyle(layer).display !== "none" && Number(getComputedStyle(layer).opacity) > 0.5;
      const before = shown(), start = performance.now();
      box.click();
      await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
      const time = performance.now() - start, after = shown();
      box.click();
      return { agrees: before === !after && shown() === before && before === box.checked, time };
    }, key);
    slowest = Math.max(slowest, result.time);
    check(`the switch of layer ${key} hides and shows it`, result.agrees);
  }
  figure("slowest layer switch, two frames included", slowest.toFixed(0) + " ms");
  await page.close();
}

// The screen point of a place in sheet mm.
const screenPoint = (page, x, y) => page.evaluate((mx, my) => {
  const svg = document.querySelector("#sv"), p = new DOMPoint(mx, my).matrixTransform(svg.getScreenCTM());
  return [p.x, p.y];
}, x, y);
const text = (page, selector) => page.$eval(selector, (e) => e.textContent);
const settle = () => new Promise((done) => setTimeout(done, 200));

// --- pointing
{
  const { page } = await open(browser, file);
  await page.$eval("#view", (v) => v.scrollIntoView({ block: "center" }));
  const spot = usable.features.find((f) => f.properties.kind === "defect" && f.geometry.type === "Polygon");
  const ring = spot.geometry.coordinates[0].slice(0, -1);
  const x = ring.reduce((s, p) => s + p[0], 0) / ring.length, y = ring.reduce((s, p) => s + p[1], 0) / ring.length;
  await page.mouse.move(...(await screenPoint(page, x, y)));
  await settle();
  check("pointing at a defect reads its place", Math.abs(parseFloat(await text(page, "#d-x")) - x) < 0.6 &&
    Math.abs(parseFloat(await text(page, "#d-y")) - y) < 0.6, (await text(page, "#d-x")) + " for " + x.toFixed(1));
  check("pointing at a defect names it", (await text(page, "#d-here")).includes(spot.properties.id), await text(page, "#d-here"));
  const b = blanks.find((k) => k.harmless_defects.length === 0);
  await page.mouse.move(...(await screenPoint(page, b.centre_mm[0], b.centre_mm[1])));
  await settle();
  check("pointing at a ring's core says that it is drilled away", (await text(page, "#d-here")).includes("drilled away"));
  check("warp and weft are read there", /\d/.test(await text(page, "#d-w")) && /\d/.test(await text(page, "#d-f")));
  await page.screenshot({ path: join(shots, "reading.png") });

  // --- keys
  await page.focus("#view");
  const before = parseFloat(await text(page, "#d-x"));
  await page.keyboard.press("ArrowRight");
  const one = parseFloat(await text(page, "#d-x"));
  await page.keyboard.down("Shift");
  await page.keyboard.press("ArrowRight");
  await page.keyboard.up("Shift");
  const ten = parseFloat(await text(page, "#d-x"));
  check("an arrow key steps 1 mm, with Shift 10 mm", Math.abs(one - before - 1) <= 0.51 && Math.abs(ten - one - 10) < 0.01,
    [before, one, ten].join());
  const box = () => page.$eval("#sv", (s) => s.getAttribute("viewBox").split(" ").map(Number)[2]);
  const whole = await box();
  await page.keyboard.press("+");
  const near = await box();
  await page.keyboard.press("0");
  check("plus zooms in and 0 fits", near < whole && (await box()) === whole, `${whole} ${near}`);

  // --- tables lead to the picture
  const id = spot.properties.id;
  await page.click(`tr[data-id="${id}"] button`);
  check("a row's button zooms to its item and marks it", (await box()) < whole &&
    (await page.$eval(`#sv [data-id="${id}"]`, (g) => g.classList.contains("hot"))));
  await page.close();
}

// --- a finger
{
  const { page } = await open(browser, file, { width: 390 });
  await page.$eval("#view", (v) => v.scrollIntoView({ block: "center" }));
  await page.touchscreen.tap(...(await screenPoint(page, blanks[0].centre_mm[0], blanks[0].centre_mm[1])));
  await settle();
  check("a tap reads the place", Math.abs(parseFloat(await text(page, "#d-x")) - blanks[0].centre_mm[0]) < 1.5,
    await text(page, "#d-x"));
  const small = await page.$$eval("button, .key label, summary", (list) => list.filter((e) => {
    const r = e.getBoundingClientRect();
    return r.height > 0 && (r.height < 24 || r.width < 24);
  }).length);
  check("every control is at least 24 px to a finger", small === 0, String(small));
  await page.close();
}

// --- without scripts
{
  const { page } = await open(browser, file, { scripts: false });
  await page.screenshot({ path: join(shots, "no-scripts.png") });
  const source = readFileSync(file, "utf8");
  check("without scripts the tables are there", /<noscript>/.test(source) && /<table/.test(source));
  await page.close();
}

// --- paper
{
  const { page } = await open(browser, file, { mode: "dark" });
  // A4 less its margins is 182 mm; what sticks out would make the browser shrink the print and its rules with it.
  await page.emulateMediaType("print");
  await page.setViewport({ width: Math.floor(182 / 25.4 * 96), height: 1000 });
  const wide = await page.evaluate(() => [document.documentElement.scrollWidth, ...[...document.querySelectorAll("main *")]
    .filter((e) => !e.closest("svg") && e.getBoundingClientRect().width > 0)
    .map((e) => e.getBoundingClientRect().right)].reduce((a, b) => Math.max(a, b), 0));
  check("nothing sticks out of the paper, so the print keeps its scale", wide <= Math.floor(182 / 25.4 * 96) + 1, `${wide} px`);
  const pdf = join(shots, "report.pdf");
  writeFileSync(pdf, await page.pdf({ preferCSSPageSize: true }));
  const words = execFileSync("pdftotext", ["-layout", pdf, "-"]).toString();
  const pages = words.split("\f").length - 1;
  figure("printed pages", pages);
  check("the print has the verdict on its first page", words.split("\f")[0].includes("can be used"));
  check("the print opens what is folded on the screen", words.includes("Harmless"));
  check("the print warns before the cut", words.includes("Before you cut"));
  check("the print ends within eight pages", pages >= 2 && pages <= 8, String(pages));
  await page.close();
}

if (trend && existsSync(trend)) await looks(browser, trend, shots, "trend", 6);

await browser.close();
finish();
