// What every page check needs: a browser without network, named checks, and a count of those that failed.
import { execFileSync } from "node:child_process";
import puppeteer from "puppeteer-core";

let failed = 0;

export function check(name, holds, detail = "") {
  if (!holds) failed += 1;
  console.log(`${holds ? "ok    " : "FAILED"} ${name}${detail && !holds ? ": " + detail : ""}`);
}

export function figure(name, value) {
  console.log(`figure ${name}: ${value}`);
}

export function finish() {
  console.log(failed === 0 ? "browser checks passed" : `${failed} browser checks failed`);
  process.exitCode = failed === 0 ? 0 : 1;
}

export async function launch() {
  const executablePath = execFileSync("sh", ["-c", "command -v chromium"]).toString().trim();
  return puppeteer.launch({ executablePath, headless: true, args: ["--no-sandbox", "--disable-gpu", "--hide-scrollbars"] });
}

// A tab that remembers every request beyond the file itself and every error of its scripts.
export async function open(browser, file, { width = 1280, mode = "light", scripts = true } = {}) {
  const page = await browser.newPage();
  const seen = { outside: [], errors: [] };
  page.on("request", (r) => { if (!/^(file|data|blob):/.test(r.url())) seen.outside.push(r.url()); });
  page.on("pageerror", (e) => seen.errors.push(e.message));
  page.on("console", (m) => { if (m.type() === "error") seen.errors.push(m.text()); });
  await page.setJavaScriptEnabled(scripts);
  const phone = width < 760;
  await page.setViewport({ width, height: phone ? 844 : 900, isMobile: phone, hasTouch: phone });
  await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: mode }]);
  await page.goto("file://" + file);
  return { page, seen };
}
