// What holds for every page: size, valid HTML, no outside request, no script error, nothing that sticks out, no serious
// accessibility fault; at phone and desktop size, light and dark. A screenshot of each is kept to be looked at.
import { readFileSync, statSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { HtmlValidate } from "html-validate";
import { check, figure, open } from "./browser.mjs";

const require = createRequire(import.meta.url);
const axeSource = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const config = JSON.parse(readFileSync(new URL("./htmlvalidate.json", import.meta.url), "utf8"));

export async function looks(browser, file, shots, name, mostMegabytes) {
  const megabytes = statSync(file).size / 1e6;
  figure(`size of the ${name}`, megabytes.toFixed(2) + " MB");
  check(`the ${name} is at most ${mostMegabytes} MB`, megabytes <= mostMegabytes);
  const verdict = await new HtmlValidate(config).validateString(readFileSync(file, "utf8"));
  const messages = verdict.results.flatMap((r) => r.messages).filter((m) => m.severity === 2);
  check(`the HTML of the ${name} is valid`, messages.length === 0,
    messages.slice(0, 8).map((m) => `${m.line}:${m.column} ${m.message} (${m.ruleId})`).join("; "));
  for (const width of [1280, 390]) {
    for (const mode of ["light", "dark"]) {
      const { page, seen } = await open(browser, file, { width, mode });
      const where = `${name}, ${width} px, ${mode}`;
      const wide = await page.evaluate(() => document.documentElement.scrollWidth);
      check(`${where}: nothing sticks out sideways`, wide <= width, `${wide} px`);
      await page.evaluate(() => document.querySelectorAll("details").forEach((d) => (d.open = true)));
      await page.evaluate(axeSource);
      const faults = await page.evaluate(async () =>
        (await axe.run()).violations.filter((v) => v.impact === "serious" || v.impact === "critical")
          .map((v) => `${v.id}: ${v.nodes.length} x ${v.nodes[0].target}`));
      check(`${where}: no serious accessibility fault`, faults.length === 0, faults.join("; "));
      check(`${where}: no script error`, seen.errors.length === 0, seen.errors.join("; "));
      check(`${where}: no outside request`, seen.outside.length === 0, seen.outside.join("; "));
      await page.screenshot({ path: join(shots, `${name}-${width}-${mode}.png`), fullPage: true });
      await page.close();
    }
  }
}
