// The report in Debian's chromium: the real page from the disk, with real clicks and keys.
//   node --test report.test.mjs       DRIFTGLOW: the program; SHOTS: a folder for pictures, if wanted
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { fileURLToPath, pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

const program = process.env.DRIFTGLOW;
const root = fileURLToPath(new URL("../..", import.meta.url));
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const hostile = "</script><img src=x onerror=window.broken=1>\u2028<!-- & \"quoted\"";
const folder = mkdtempSync(join(tmpdir(), "driftglow-browser-"));
let browser;

function fly(name, scenario) {
  const file = join(folder, `${name}.yaml`);
  writeFileSync(file, scenario);
  execFileSync(program, ["fly", file, "--out", join(folder, name), "--quiet"], { stdio: "pipe" });
  return join(folder, name, "report.html");
}

function replaced(text, from, to) {
  assert.ok(text.includes(from), `the demo has: ${from}`);
  return text.replace(from, to);
}

const demo = readFileSync(join(root, "configs", "plankton_column.yaml"), "utf8");
const study = `title: ${JSON.stringify(hostile)}
scenario: short.yaml
vary:
  - {name: supply, key: drive.driver.supply, values: [20 V, 24 V, 28 V]}
  - {name: temperature, key: ambient.temperature, values: [15 degC, 25 degC]}
flights: {replicates: 4, most: 4}
outputs:
  - {name: duty yellow-green, path: "flight.tag_designs[plankton].fits[yellow-green].duty"}
  - {name: supply power, path: sheet.drive.supply_power}
goal:
  - {output: duty yellow-green, want: most}
  - {output: supply power, want: least}
subject_to: [{output: supply power, most: 0.15}]
`;
let demoPage, hostilePage, studyPage;

before(async () => {
  demoPage = fly("demo", demo);
  let scenario = replaced(demo, "title: Plankton column", `title: ${JSON.stringify(hostile)}`);
  scenario = replaced(scenario, "count: 12", "count: 24");
  scenario = replaced(scenario, "mix: {yellow-green: 8, warm-white: 4}", "mix: {yellow-green: 12, warm-white: 12}");
  scenario = replaced(scenario, "radius: 15 mm", "radius: 14 mm");
  hostilePage = fly("hostile", scenario);
  writeFileSync(join(folder, "short.yaml"), replaced(demo, "duration: 30 s", "duration: 2 s"));
  writeFileSync(join(folder, "study.yaml"), study);
  execFileSync(program, ["vary", join(folder, "study.yaml"), "--out", join(folder, "study"), "--quiet"], { stdio: "pipe" });
  studyPage = join(folder, "study", "report.html");
  browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
      "--disable-component-update", "--disable-sync"],
  });
});

after(async () => {
  await browser?.close();
  rmSync(folder, { recursive: true, force: true });
});

// A page with all that goes wrong on it.
async function opened(file, options = {}) {
  const page = await browser.newPage({ viewport: { width: 1280, height: 900 }, ...options });
  const faults = [], requests = [];
  page.on("console", (message) => message.type() === "error" && faults.push(message.text()));
  page.on("pageerror", (error) => faults.push(String(error)));
  page.on("request", (request) => requests.push(request.url()));
  await page.goto(pathToFileURL(file).href);
  await page.waitForFunction(() => document.documentElement.classList.contains("scripted") && !document.getElementById("replay")?.hidden);
  return { page, faults, requests };
}

// A number that changes with the picture.
const picture = (page) => page.evaluate(() => {
  const canvas = document.querySelector("#replay canvas");
  const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
  let sum = 0, bright = 0;
  for (let i = 0; i < data.length; i += 4) {
    sum = (sum * 31 + data[i] + 7 * data[i + 1] + 13 * data[i + 2]) % 1000000007;
    bright += data[i] + data[i + 1] + data[i + 2] > 300;
  }
  return { sum, bright };
});
const part = (page, name) => page.locator(`[data-part="${name}"]`);
const drawn = (page) => page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));

test("the demo's page is small, opens from the disk without a fault and asks for nothing", async () => {
  assert.ok(statSync(demoPage).size <= 1.5e6, `${statSync(demoPage).size} bytes`);
  const { page, faults, requests } = await opened(demoPage);
  assert.deepEqual(faults, []);
  assert.deepEqual(requests, [pathToFileURL(demoPage).href]);
  assert.equal(await page.locator("h1").textContent(), "Plankton column");
  await page.close();
});

test("the page's policy refuses what is not its own", async () => {
  const { page, faults } = await opened(demoPage);
  await page.evaluate(() => {
    const script = document.createElement("script");
    script.textContent = "window.broken = 1";
    document.body.append(script);
  });
  assert.equal(await page.evaluate(() => window.broken), undefined);
  assert.equal(faults.filter((text) => text.includes("Content Security Policy")).length, 1);
  await page.close();
});

test("the replay stands still, then plays, scrubs, turns and switches emitters on the same flight", async () => {
  const { page, faults } = await opened(demoPage);
  const still = await picture(page);
  assert.ok(still.bright > 20, "something glows");
  await page.waitForTimeout(300);
  assert.deepEqual(await picture(page), still);
  assert.equal(await part(page, "speed").inputValue(), "0.25");

  await part(page, "play").click();
  await page.waitForTimeout(600);
  await part(page, "play").click();
  const time = parseFloat(await part(page, "clock").textContent());
  assert.ok(time > 0.05 && time < 0.4, `a quarter of real time: ${time} s`);
  const later = await picture(page);
  assert.notEqual(later.sum, still.sum);

  await part(page, "scrub").focus();
  await page.keyboard.press("PageUp");
  await drawn(page);
  assert.ok(parseFloat(await part(page, "clock").textContent()) > 1);

  const views = new Set();
  for (const key of ["ArrowLeft", "ArrowUp", "+", "Home"]) {
    await part(page, "canvas").press(key);
    await drawn(page);
    views.add((await picture(page)).sum);
  }
  assert.equal(views.size, 4);
  const box = await part(page, "canvas").boundingBox();
  await page.mouse.move(box.x + 300, box.y + 300);
  await page.mouse.down();
  await page.mouse.move(box.x + 400, box.y + 320);
  await page.mouse.up();
  await drawn(page);
  assert.ok(!views.has((await picture(page)).sum));

  const counts = {};
  for (const fits of ["0", "1"]) {
    await part(page, "fits").selectOption(fits);
    let lit = 0;
    for (let i = 0; i < 20; ++i) {
      await part(page, "scrub").evaluate((slider, value) => {
        slider.value = String(value);
        slider.dispatchEvent(new Event("input"));
      }, 60 * i);
      await drawn(page);
      lit += parseInt(await part(page, "status").textContent(), 10);
    }
    counts[fits] = lit / 20 / 12;
  }
  // The duties of the demo: 47 and 24 %; 20 moments of one flight.
  assert.ok(counts[0] > 0.35 && counts[0] < 0.6, `yellow-green ${counts[0]}`);
  assert.ok(counts[1] > 0.12 && counts[1] < 0.36, `warm-white ${counts[1]}`);
  assert.deepEqual(faults, []);
  await page.close();
});

test("the long exposure gathers light and is saved as a picture", async () => {
  const { page, faults } = await opened(demoPage);
  const { bright } = await picture(page);
  await part(page, "shutter").selectOption("5");
  await part(page, "gather").click();
  assert.ok((await picture(page)).bright > 2 * bright);
  const [download] = await Promise.all([page.waitForEvent("download"), part(page, "save").click()]);
  const bytes = readFileSync(await download.path());
  assert.equal(bytes.subarray(1, 4).toString(), "PNG");
  assert.match(download.suggestedFilename(), /long-exposure\.png$/);
  assert.deepEqual(faults, []);
  await page.close();
});

test("a wish for less motion is kept until it is taken back", async () => {
  const { page } = await opened(demoPage, { reducedMotion: "reduce" });
  assert.ok(await part(page, "play").isDisabled());
  await part(page, "canvas").press(" ");
  await page.waitForTimeout(200);
  assert.equal(await part(page, "clock").textContent(), "0.00 s");
  await part(page, "consent").locator("input").check();
  assert.ok(await part(page, "play").isEnabled());
  await page.close();
});

test("tables sort by a heading, both ways", async () => {
  const { page } = await opened(demoPage);
  const table = page.locator("table").first();
  const duties = async () => (await table.locator("tbody tr td:nth-child(2)").allTextContents()).map(parseFloat);
  const heading = table.locator("thead th").nth(1);
  await heading.getByRole("button").click();
  const up = await duties();
  assert.equal(await heading.getAttribute("aria-sort"), "ascending");
  assert.deepEqual(up, [...up].sort((a, b) => a - b));
  await heading.getByRole("button").press("Enter");
  assert.deepEqual(await duties(), [...up].reverse());
  assert.ok(up[0] < up[1]);
  await page.close();
});

test("charts tell their values to the pointer and to the keys", async () => {
  const { page, faults } = await opened(demoPage);
  const curve = page.locator("svg[data-tips]").first();
  await curve.hover();
  assert.match(await page.locator("#bubble").textContent(), /%/);
  await curve.press("ArrowRight");
  assert.match(await page.locator("#readout").textContent(), /yellow-green|warm-white/);
  const map = page.locator("svg[data-grid]").last();
  await map.hover();
  assert.match(await page.locator("#bubble").textContent(), /m\/s\nx = -?\d+ mm, z = \d+ mm/);
  assert.deepEqual(faults, []);
  await page.close();
});

test("a hostile title is shown and does nothing", async () => {
  const { page, faults, requests } = await opened(hostilePage);
  assert.equal(await page.locator("h1").textContent(), hostile);
  assert.equal(await page.locator("img").count(), 0);
  assert.equal(await page.evaluate(() => window.broken), undefined);
  assert.deepEqual(faults, []);
  assert.equal(requests.length, 1);
  await page.close();
});

test("a study's page: title inert, no request, table sorts, charts tell their values", async () => {
  const { page, faults, requests } = await opened(studyPage);
  assert.equal(await page.locator("h1").textContent(), hostile);
  assert.equal(await page.evaluate(() => window.broken), undefined);
  const ranking = page.locator("table").first();
  const column = async (n) => ranking.locator(`tbody tr > :nth-child(${n})`).allTextContents();
  assert.deepEqual((await column(1)).slice(0, 2), ["1", "2"]);
  const power = ranking.getByRole("button", { name: "supply power" });
  await power.click();
  const rising = (await column(6)).map(parseFloat);
  assert.equal(rising.length, 6);
  assert.deepEqual(rising, [...rising].sort((a, b) => a - b));
  await power.click();
  assert.deepEqual((await column(6)).map(parseFloat), [...rising].reverse());
  // What stands outside the limits has no rank and stays below those that have, both ways.
  const rank = ranking.getByRole("button", { name: "rank" });
  for (let i = 0; i < 2; ++i) {
    await rank.click();
    assert.deepEqual((await column(1)).slice(4), ["outside", "outside"]);
  }
  const scatter = page.locator("svg[data-tips]").first();
  await scatter.focus();
  await scatter.press("ArrowRight");
  assert.match(await page.locator("#readout").textContent(), /design \d+\nsupply: 2\d V/);
  await page.getByRole("link", { name: "Main effects" }).click();
  assert.ok(await page.locator("#part-main-effects").isVisible());
  assert.deepEqual(faults, []);
  assert.deepEqual(requests.filter((url) => !url.startsWith(pathToFileURL(studyPage).href)), []);
  await page.close();
});

test("24 tags play at 30 pictures a second and more at 900 x 600 in software", async () => {
  const { page } = await opened(hostilePage);
  const size = await part(page, "canvas").evaluate((canvas) => [canvas.width, canvas.height]);
  assert.deepEqual(size, [900, 600]);
  await part(page, "speed").selectOption("1");
  await part(page, "play").click();
  await page.waitForTimeout(500);
  // The best of some spans: other programs on the machine only take away.
  const spans = [];
  while (spans.length < 5 && !(Math.max(...spans) >= 30)) {
    spans.push(await page.evaluate(() => new Promise((done) => {
      const root = document.getElementById("replay");
      const first = Number(root.dataset.frames), begin = performance.now();
      setTimeout(() => done((Number(root.dataset.frames) - first) / ((performance.now() - begin) / 1000)), 3000);
    })));
  }
  const rate = Math.max(...spans);
  console.log(`${rate.toFixed(1)} pictures a second`);
  assert.ok(rate >= 30, `${rate} pictures a second`);
  await page.close();
});

for (const colorScheme of ["light", "dark"]) {
  test(`axe-core finds no serious fault, ${colorScheme}`, async () => {
    for (const [file, width] of [[demoPage, 360], [demoPage, 1600], [studyPage, 360], [studyPage, 1600]]) {
      const { page } = await opened(file, { colorScheme, viewport: { width, height: 900 }, bypassCSP: true });
      await page.addScriptTag({ content: axe });
      const { violations } = await page.evaluate(() => window.axe.run());
      const serious = violations.filter(({ impact }) => ["serious", "critical"].includes(impact));
      assert.deepEqual(serious.map(({ id, nodes }) => `${id}: ${nodes[0].html}`), []);
      await page.close();
    }
  });
}

test("nothing is wider than the screen, from 360 to 1600 pixels", async () => {
  for (const [file, width] of [demoPage, studyPage].flatMap((one) => [[one, 360], [one, 800], [one, 1600]])) {
    const { page } = await opened(file, { viewport: { width, height: 900 } });
    assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= width);
    await page.close();
  }
});

test("pictures for the eye", { skip: !process.env.SHOTS }, async () => {
  const shots = [["light", 1280], ["dark", 1280], ["light", 360], ["dark", 360], ["light", 1600], ["dark", 1600]];
  for (const [colorScheme, width] of shots) {
    const { page } = await opened(demoPage, { colorScheme, viewport: { width, height: 1000 } });
    await page.screenshot({ path: join(process.env.SHOTS, `${colorScheme}_${width}.png`), fullPage: true });
    if (width === 1280) {
      await part(page, "shutter").selectOption("5");
      await part(page, "gather").click();
      await part(page, "canvas").screenshot({ path: join(process.env.SHOTS, `long_exposure_${colorScheme}.png`) });
    }
    if (width === 1280 && colorScheme === "light") await page.pdf({ path: join(process.env.SHOTS, "print.pdf"), format: "A4" });
    await page.close();
  }
  for (const [colorScheme, width] of [["light", 1280], ["dark", 360]]) {
    const { page } = await opened(studyPage, { colorScheme, viewport: { width, height: 1000 } });
    await page.screenshot({ path: join(process.env.SHOTS, `study_${colorScheme}_${width}.png`), fullPage: true });
    await page.close();
  }
});
