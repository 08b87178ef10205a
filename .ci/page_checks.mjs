// Reports in a browser and under a validator:
//
//   node .ci/page_checks.mjs [--shots FOLDER] PAGE.html ...
//
// axe-core in light, dark and at the width of a phone, with panels shut and one open; nothing is asked of the network, nothing is complained
// of in the console, nothing is wider than the screen; html-validate. Wants axe-core, html-validate and puppeteer-core
// (npm, found from NODE_MODULES or this folder's parents) and Chromium (CHROMIUM, or the usual names).
// Prints what is wrong; ends with 1 if anything is.
import { createRequire } from "node:module";
import { existsSync, mkdirSync } from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";

const modules = process.env.NODE_MODULES ?? path.join(process.cwd(), "node_modules");
const require = createRequire(path.join(modules, "here.js"));
const puppeteer = (await import(pathToFileURL(require.resolve("puppeteer-core")))).default;
const axe = require("axe-core").source;
const { HtmlValidate } = require("html-validate");

const words = process.argv.slice(2);
let shots = null;
if (words[0] === "--shots") {
  [, shots] = words.splice(0, 2);
  mkdirSync(shots, { recursive: true });
}
if (words.length === 0) {
  console.error("no page given");
  process.exit(2);
}
const usual = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];
const executablePath = process.env.CHROMIUM ?? usual.find(existsSync);

let wrong = 0;
function say(where, what) {
  wrong += 1;
  console.log(`${where}: ${what}`);
}

const looks = [
  ["light", "light", 1280, 900],
  ["dark", "dark", 1280, 900],
  ["wide", "light", 1600, 1000],
  ["phone", "light", 360, 740],
  ["phone, dark", "dark", 360, 740],
];

async function look(browser, file, [name, scheme, width, height]) {
  const where = `${path.basename(file)} (${name})`;
  const page = await browser.newPage();
  await page.setViewport({ width, height });
  await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: scheme }]);
  page.on("console", (message) => say(where, `console: ${message.text()}`));
  page.on("pageerror", (error) => say(where, `error: ${error}`));
  page.on("request", (request) => {
    if (!/^(file|data):/.test(request.url())) say(where, `asks for ${request.url()}`);
  });
  await page.goto(pathToFileURL(path.resolve(file)).href, { waitUntil: "load" });
  await checked(page, where);
  const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  if (over > 0) say(where, `${over} pixels wider than the screen`);
  const fonts = await page.evaluate(() => [...document.fonts].filter((face) => face.status === "error").length);
  if (fonts > 0) say(where, `${fonts} typefaces could not be read`);
  if (shots) await page.screenshot({ path: path.join(shots, `${path.basename(file)}-${name.replace(", ", "-")}.png`) });
  await openedByKeyboard(page, where, shots && path.join(shots, `${path.basename(file)}-${name.replace(", ", "-")}-panel.png`));
  await page.close();
}

async function checked(page, where) {
  await page.evaluate(axe);
  const found = await page.evaluate(() => axe.run(document, { resultTypes: ["violations"] }));
  for (const { id, help, nodes } of found.violations) {
    say(where, `axe ${id}: ${help} (${nodes.length}): ${nodes[0].html.slice(0, 160)} ${nodes[0].any.map((c) => c.message)}`);
  }
}

// A figure's panel opens with Enter, is whole to see, and shuts with Escape, after which the figure has the focus again.
async function openedByKeyboard(page, where, shot) {
  const figure = await page.$("button.figure");
  if (!figure) return;
  await figure.focus();
  await page.keyboard.press("Enter");
  const box = await page.evaluate(() => {
    const open = document.querySelector(":popover-open");
    return open && { inner: innerWidth, ...open.getBoundingClientRect().toJSON(), text: open.innerText };
  });
  if (!box) return say(where, "a figure opens no panel");
  if (box.left < 0 || box.right > box.inner || box.top < 0 || box.text.length < 10) say(where, "a panel cannot be seen");
  await checked(page, `${where}, panel open`);
  if (shot) await page.screenshot({ path: shot });
  await page.keyboard.press("Escape");
  const back = await figure.evaluate((f) => !document.querySelector(":popover-open") && document.activeElement === f);
  if (!back) say(where, "Escape does not lead back from a panel");
}

async function validated(file) {
  const rules = {
    extends: ["html-validate:standard", "html-validate:a11y"],
    rules: {
      // Long lines and blanks are no concern of readers.
      "long-title": "off",
      "no-trailing-whitespace": "off",
    },
  };
  const report = await new HtmlValidate(rules).validateFile(file);
  for (const { messages } of report.results) {
    for (const { ruleId, message, line, column } of messages.slice(0, 20)) {
      say(path.basename(file), `html-validate ${ruleId}: ${message} (${line}:${column})`);
    }
  }
}

const browser = await puppeteer.launch({
  executablePath,
  headless: true,
  args: ["--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"].concat(
    process.getuid?.() === 0 ? ["--no-sandbox"] : [],
  ),
});
try {
  for (const file of words) {
    for (const each of looks) await look(browser, file, each);
    await validated(file);
  }
} finally {
  await browser.close();
}
console.log(wrong === 0 ? `${words.length} pages are sound` : `${wrong} faults`);
process.exit(wrong === 0 ? 0 : 1);
