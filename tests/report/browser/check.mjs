// Looks at the pages of pages.py in Chromium: accessibility, pointing, states, keyboard, no network,
// nothing hostile runs, nothing wider than the screen. Prints a line a page; ends with 1 if any is
// not as it should be. Usage: node check.mjs FOLDER [--shots]
import { chromium } from "playwright-core";
import { mkdtempSync, readFileSync, readdirSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import path from "node:path";

const [folder, shots] = [path.resolve(process.argv[2]), process.argv.includes("--shots")];
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const WIDTHS = [1200, 390];
const context = await chromium.launchPersistentContext(mkdtempSync(path.join(tmpdir(), "browser-")), {
  executablePath: process.env.CHROMIUM || "/usr/bin/chromium",
  headless: true,
  bypassCSP: false,
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});
const page = await context.newPage();
const heard = [];
page.on("pageerror", (error) => heard.push(`error: ${error.message}`));
page.on("console", (line) => heard.push(`console: ${line.text()}`));
page.on("request", (asked) => {
  if (!asked.url().startsWith("file:")) heard.push(`asked for ${asked.url()}`);
});
await page.setContent("<!DOCTYPE html><html><body><input><p style='color:#bbb'>faint</p></body></html>");
const planted = [];
if ((await accessible(planted)) < 2) throw new Error("the checker does not see planted faults");

const record = {};
for (const name of readdirSync(folder).filter((file) => file.endsWith(".html")).sort())
  record[name.replace(/\.html$/, "")] = await looked(name);
writeFileSync(path.join(folder, "seen.json"), JSON.stringify(record, null, 1) + "\n");
await context.close();
const bad = Object.entries(record).filter(([, seen]) => seen.wrong.length);
for (const [name, seen] of bad) console.log(name, seen.wrong);
process.exitCode = bad.length ? 1 : 0;

async function looked(name) {
  const seen = { wrong: [] };
  for (const width of WIDTHS) {
    heard.length = 0;
    await page.setViewportSize({ width, height: 850 });
    await page.goto(`file://${path.join(folder, name)}`);
    const wider = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    if (wider > 0) seen.wrong.push(`${width}: ${wider} px wider than the screen`);
    Object.assign(seen, await used(seen.wrong));
    if (await page.evaluate(() => "ran" in window)) seen.wrong.push("a text of the drawing ran");
    seen[`axe_${width}`] = await accessible(seen.wrong);
    seen.wrong.push(...heard);
    if (shots) await pictures(name, width);
  }
  console.log(name.padEnd(34), JSON.stringify({ ...seen, wrong: seen.wrong.length }));
  return seen;
}

// The checker is put in from outside the page's policy, as a debugger would.
async function accessible(wrong) {
  await page.evaluate(`${axe}; 0`);
  const found = await page.evaluate(async () => {
    for (const closed of document.querySelectorAll("details")) closed.open = true;
    return (await axe.run(document, { resultTypes: ["violations"] })).violations.map(
      (v) => `${v.id}: ${v.nodes.length}: ${v.nodes[0].html.slice(0, 120)}`);
  });
  wrong.push(...found);
  return found.length;
}

async function used(wrong) {
  if (!(await page.$("select.which"))) return { pictures: (await page.$$("svg.drawn")).length };
  const want = (good, what) => { if (!good) wrong.push(what); };
  const text = (selector) => page.$eval(selector, (e) => e.innerText);
  const parts = await page.$$eval("select.which optgroup[label=parts] option", (all) => all.map((o) => o.value));
  const states = await page.$$eval("select.state option", (all) => all.length);

  // every part and point that can be chosen has its place and its words
  const choices = await page.$$eval("select.which option", (all) => all.map((o) => o.value).filter(Boolean));
  let dark = 0, mute = 0;
  for (const value of choices) {
    await page.selectOption("select.which", value);
    if (!(await page.$(".drawn .lit"))) dark += 1;
    if ((await text(".asked")).length < 3) mute += 1;
  }
  want(dark === 0, `${dark} choices are nowhere in the picture`);
  want(mute === 0, `${mute} choices have no words`);
  await page.selectOption("select.which", "");

  // pointing with the mouse at a symbol shows it, leaving takes it back
  const symbol = await page.$("g[data-part] > rect.hit");
  if (symbol) {
    await symbol.scrollIntoViewIfNeeded();
    await symbol.hover({ force: true });
    const owner = await symbol.evaluate((e) => e.parentNode.dataset.part);
    want((await text(".asked h3").catch(() => "")).startsWith(owner), `pointing at ${owner} says something else`);
    await page.mouse.move(2, 2);
    want(!(await page.$(".drawn g.lit")), "what was pointed at stays lit");
  }

  // a state has its volts
  let moved = 0;
  if (states > 1) {
    const volts = () => page.$$eval("text.volts", (all) => all.map((t) => t.textContent).join());
    const before = await volts();
    for (let n = 1; n < states; n += 1) {
      await page.selectOption("select.state", { index: n });
      if ((await volts()) !== before) moved += 1;
    }
    await page.selectOption("select.state", { index: 0 });
    want((await volts()) === before, "the first state does not come back");
  }

  // the keyboard alone: to a finding, open it, its place, and its evidence
  let placed = 0;
  const findings = await page.$$("details[data-finding]");
  for (const finding of findings) {
    await (await finding.$("summary")).focus();
    await page.keyboard.press("Enter");
    want(await finding.evaluate((e) => e.open), "Enter does not open a finding");
    want((await finding.$$("dd")).length > 0, "a finding has no evidence");
    placed += (await page.$(".drawn .lit")) ? 1 : 0;
    await page.keyboard.press("Tab");
    await page.keyboard.press("Enter");
    want(await page.evaluate(() => document.activeElement.classList.contains("sheet")), "no way to the place");
  }

  // a number in the picture opens its finding
  const badge = await page.$("rect.badge[data-finding]");
  if (badge) {
    const number = await badge.getAttribute("data-finding");
    const there = await page.$(`details[data-finding="${number}"]`);
    if (there) {
      await there.evaluate((e) => { e.open = false; });
      await badge.scrollIntoViewIfNeeded();
      await badge.click({ force: true });
      want(await there.evaluate((e) => e.open), `number ${number} does not open its finding`);
    }
  }
  return { pictures: 1, parts: parts.length, states, states_that_differ: moved, findings: findings.length, placed };
}

async function pictures(name, width) {
  const stem = path.join(folder, `${name.replace(/\.html$/, "")}-${width}`);
  await page.goto(`file://${path.join(folder, name)}`);
  await page.screenshot({ path: `${stem}.png`, fullPage: true });
  if (width === WIDTHS[0]) await page.pdf({ path: `${stem}.pdf`, preferCSSPageSize: true });
}
