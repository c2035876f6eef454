// Drives the review in Chromium: every page, every edit, by keys alone, at several widths; a fault of the page's
// script, a failed request, and any violation that axe-core finds end the test.
//
//   NODE_PATH=…/node_modules node review.mjs ADDRESS SESSION FILM [FOLDER FOR PICTURES]
//
// Prints accessibility_violations<TAB>COUNT. The audit follows WCAG 2.2, levels A and AA.

import assert from "node:assert/strict";
import { mkdtempSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { createServer } from "node:http";
import { tmpdir } from "node:os";
import { join } from "node:path";

const require = createRequire(join(process.env.NODE_PATH ?? ".", "x.js"));
const { chromium } = require("playwright-core");
const axe = require.resolve("axe-core/axe.min.js");

const [address, session, film, pictures] = process.argv.slice(2);
const profile = mkdtempSync(join(tmpdir(), "review-"));
const faults = [];
let violations = 0;

const context = await chromium.launchPersistentContext(profile, {
  executablePath: "/usr/bin/chromium",
  bypassCSP: false,
  viewport: { width: 1280, height: 900 },
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync"],
});

const watch = (page) => {
  page.on("pageerror", (error) => faults.push(`script: ${error.message}`));
  page.on("console", (message) => {
    const expected = /status of (404|409|422)/.test(message.text());
    if (message.type() === "error" && !expected) faults.push(`console: ${message.text()}`);
  });
  page.on("request", (request) => {
    const url = request.url();
    if (!url.startsWith(address) && !/^(blob|data):/.test(url)) faults.push(`asked elsewhere: ${url}`);
  });
};

const audit = async (page, name) => {
  // Run as an isolated script: the page's own policy forbids foreign ones.
  const cdp = await context.newCDPSession(page);
  const { readFileSync } = await import("node:fs");
  await cdp.send("Runtime.evaluate", { expression: readFileSync(axe, "utf8") });
  const { result } = await cdp.send("Runtime.evaluate", {
    expression: `axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] })
      .then((found) => JSON.stringify(found.violations.map((v) => [v.id, v.help, v.nodes.slice(0, 3).map((n) => n.html)])))`,
    awaitPromise: true,
    returnByValue: true,
  });
  const found = JSON.parse(result.value);
  violations += found.length;
  for (const violation of found) console.error(`${name}: ${JSON.stringify(violation)}`);
};

const picture = async (page, name) => {
  if (pictures) await page.screenshot({ path: join(pictures, `${name}.png`), fullPage: true });
};

const fits = async (page, name) => {
  const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  assert.ok(over <= 0, `${name}: ${over} px wider than the window`);
};

// Labels of a chart neither touch each other nor leave the drawing; only the drawing for this width is shown.
const labelled = async (page, name) => {
  const found = await page.evaluate(() => {
    const said = [];
    const shown = [...document.querySelectorAll("svg.chart")].filter((chart) => chart.getClientRects().length);
    const narrow = innerWidth <= 640;
    if (shown.some((chart) => chart.classList.contains("narrow") !== narrow)) said.push("a drawing for another width");
    for (const chart of shown) {
      const frame = chart.getBoundingClientRect();
      const labels = [...chart.querySelectorAll("text")].filter((text) => text.textContent.trim())
        .map((text) => [text.textContent, text.getBoundingClientRect()]);
      for (const [index, [words, box]] of labels.entries()) {
        if (box.left < frame.left || box.right > frame.right || box.top < frame.top || box.bottom > frame.bottom) said.push(`${words} leaves the drawing`);
        for (const [other, beside] of labels.slice(index + 1)) {
          const across = Math.min(box.right, beside.right) - Math.max(box.left, beside.left);
          const down = Math.min(box.bottom, beside.bottom) - Math.max(box.top, beside.top);
          // A box has some room above and below its letters.
          if (across > 0.5 && down > 4) said.push(`${words} on ${other}`);
        }
      }
    }
    return [shown.length, said];
  });
  for (const said of found[1]) faults.push(`${name}: ${said}`);
  return found[0];
};

const page = context.pages()[0] ?? (await context.newPage());
watch(page);

// --- Every page: audit in light and dark, 320 px, 200 % zoom (as a window of half the size) ---
await page.goto(address);
const animals = await page.$$eval("nav .chips a", (links) => links.map((link) => link.href));
assert.equal(animals.length, 2);
const here = `${address}session/${session}`;
const scoring = "01900000-0000-7000-8000-0000000000aa";
const score = `${here}/score/${scoring}?by=Cy`;
const all = { sessions: address, session: here, animal: animals[1], ratio: `${animals[1]}?scale=ratio`, card: `${animals[1]}/card`, score,
  agree: `${here}/agree/${scoring}`, trouble: `${address}session/nothing` };
for (const [name, url] of Object.entries(all)) {
  await page.setViewportSize({ width: 1280, height: 900 });
  for (const colorScheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme });
    await page.goto(url);
    await audit(page, `${name}, ${colorScheme}`);
    const charts = await labelled(page, name);
    if (["session", "animal", "ratio"].includes(name)) assert.ok(charts > 1, `${name} has no charts`);
    await picture(page, `${name}-${colorScheme}`);
  }
  await page.emulateMedia({ colorScheme: "light" });
  for (const [width, height] of [[320, 640], [640, 450]]) {
    await page.setViewportSize({ width, height });
    await page.goto(url);
    await fits(page, `${name} at ${width} px`);
    await labelled(page, `${name} at ${width} px`);
    await picture(page, `${name}-${width}`);
  }
  await audit(page, `${name}, narrow`);
}
await page.setViewportSize({ width: 1280, height: 900 });

// --- By keys alone ---
const status = async (text) => page.waitForFunction((text) => document.querySelector("#status").textContent.includes(text), text);
const press = async (key, text = "Saved.") => {
  await page.evaluate(() => { document.querySelector("#status").textContent = ""; });
  await page.keyboard.press(key);
  await status(text);
};
const row = (place) => page.$eval(`.reps tbody tr:nth-child(${place})`, (row) => row.innerText);
const count = () => page.$$eval("input[name=rep]", (reps) => reps.length);
await page.goto(here);
const reps = await count();
const doubts = () => page.$$eval(".doubts li", (items) => items.length);
const unsure = await doubts();
await press("y");
assert.equal(await doubts(), unsure - 1);
await press("n");
assert.equal(await doubts(), unsure - 2);
assert.equal(await count(), reps + 1);
await page.keyboard.press("ArrowDown");
await press("j");
assert.match(await row(2), /jackpot/);
assert.match(await row(2), /edited/);
await press("1");
await press("q");
assert.match(await row(2), /left/);
await press("u");
assert.doesNotMatch(await row(2), /left/);
await press("x");
assert.equal(await count(), reps);
await press("k", "Choose the film first");
assert.ok((await page.$$(".events .undone")).length >= 1, "the history of edits shows what was taken back");
// Keys can be turned off, and do nothing while a person writes.
await page.evaluate(() => { document.querySelector("#keys").open = true; });
await page.uncheck("#keys-on");
await page.keyboard.press("x");
await page.check("#keys-on");
await page.fill("textarea[name=text]", "");
await page.focus("textarea[name=text]");
await page.keyboard.type("xxjm");
await page.waitForTimeout(300);
assert.equal(await count(), reps);
await page.fill("textarea[name=text]", "A note <img src=x onerror=alert(1)>");
await page.click("text=Keep the note");
await status("Saved.");
assert.match(await page.innerText("#rest"), /A note <img/);

// --- Film: played from the disk, stepped, slowed, compared; edits keep it open ---
await page.setInputFiles("#film-file", film);
await page.waitForFunction(() => document.querySelector("#film-a").readyState >= 2);
const time = () => page.$eval("#film-a", (video) => video.currentTime);
await page.locator("main").focus();
await page.keyboard.press("ArrowDown");
await page.waitForFunction(() => !document.querySelector("#film-a").seeking);
const before = await time();
await page.keyboard.press(".");
await page.waitForFunction((before) => document.querySelector("#film-a").currentTime > before, before);
assert.ok((await time()) - before < 0.1, "one frame on");
for (let i = 0; i < 3; i += 1) await page.keyboard.press("-");
assert.equal(await page.$eval("#film-a", (video) => video.playbackRate), 0.1);
assert.ok((await page.$eval("#film-a", (video) => video.textTracks[0].cues.length)) >= reps - 1);
await page.keyboard.press("a");
await page.keyboard.press("ArrowDown");
await page.keyboard.press("b");
await page.keyboard.press("c");
await page.waitForFunction(() => !document.querySelector("#second").hidden && document.querySelector("#film-b").readyState >= 2);
await picture(page, "compare");
await page.keyboard.press("p");
await press("k");
assert.equal(await count(), reps + 1);
assert.ok(await page.$eval("#film-a", (video) => video.src.startsWith("blob:")), "the film stays open");
await page.fill("#offset_s", "2.5", { force: true }).catch(() => {});
await page.click("summary:has-text('Place the film')");
await page.fill("#offset_s", "2.5");
await page.click("text='Place it by hand'");
await status("placed");
assert.equal(await page.$eval("#film", (film) => film.dataset.offset), "2.5");
await page.fill("input[name=path]", "/no/such/film.mp4");
await page.click("text=Place it by its sound");
await page.waitForFunction(() => document.querySelector("#status").className === "alarm");

// --- Second observer ---
await page.goto(score);
await page.setInputFiles("#film-file", film);
await page.waitForFunction(() => document.querySelector("#film-a").readyState >= 2);
const own = (n) => page.waitForFunction((n) => document.querySelectorAll("#own li").length === n, n);
const jump = (to) => page.$eval("#film-a", (video, to) => { video.currentTime = to; }, to);
await jump(12);
await page.locator("main").focus();
await page.keyboard.press("r");
await own(1);
await press("2");
assert.match(await page.innerText("#own"), /step 2, high/);
await press("l");
assert.match(await page.innerText("#own"), /step 2, low/);
await jump(20);
await page.keyboard.press("m");
await own(2);
await page.keyboard.press("u");
await own(1);
await picture(page, "scored");
await page.click("text=I have finished");
assert.match(await page.innerText("main"), /Cy: 1 try/);
assert.match(await page.innerText("main"), /Event by event/);
await page.setInputFiles("#film-file", film);
await page.waitForFunction(() => document.querySelector("#film-a").readyState >= 2);
await page.click("[data-seek] >> nth=1");
assert.ok((await time()) > 0);
await audit(page, "agreement with a film");
await picture(page, "agreed");

// --- Two browsers at once: the second did not see what the first did ---
await page.goto(here);
const other = await context.newPage();
watch(other);
await other.goto(here);
await page.locator("main").focus();
await page.keyboard.press("ArrowDown");
await press("h");
await other.locator("main").focus();
await other.keyboard.press("ArrowDown");
await other.keyboard.press("x");
await other.waitForFunction(() => document.querySelector("#status").textContent.includes("Somebody changed this try"));
await other.close();

// --- A hostile page in the same browser: can neither read, nor change, nor frame ---
const hostile = createServer((_, answer) => answer.end("<!doctype html><title>x</title><iframe></iframe>"));
await new Promise((ready) => hostile.listen(0, "127.0.0.1", ready));
const enemy = await context.newPage();
await enemy.goto(`http://127.0.0.1:${hostile.address().port}/`);
const got = await enemy.evaluate(async ([address, here]) => {
  const tried = (url, options) => fetch(url, options).then((a) => a.text()).then((t) => (t.includes("Pepino") ? "read" : "no"), () => "no");
  const post = { method: "POST", mode: "no-cors", headers: { "content-type": "application/x-www-form-urlencoded" }, body: "text=hostile" };
  const answers = [await tried(address), await tried(address, { mode: "no-cors" }), await tried(`${here}/note`, post)];
  const frame = document.querySelector("iframe");
  frame.src = address;
  await new Promise((done) => setTimeout(done, 500));
  try { answers.push(frame.contentDocument ? "no" : "no"); } catch { answers.push("no"); }
  return answers;
}, [address, here]);
assert.deepEqual([...new Set(got)], ["no"]);
await enemy.close();
hostile.close();
await page.goto(here);
assert.doesNotMatch(await page.innerText("#rest"), /hostile/);

// --- Printed, and with colours forced ---
await page.emulateMedia({ media: "print" });
assert.equal(await page.isVisible(".change"), false);
await picture(page, "print");
await page.emulateMedia({ media: "screen", forcedColors: "active" });
await picture(page, "forced");

await context.close();
rmSync(profile, { recursive: true, force: true });
console.log(`accessibility_violations\t${violations}`);
for (const fault of faults) console.error(fault);
process.exit(violations || faults.length ? 1 : 0);
