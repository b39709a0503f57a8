// For everyone: twice as large, by keyboard alone, and in German.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, draft, openJob, serve, shot, views } from "./harness.js";

/** Screens, and what stands there once the engine has answered. */
const screens = {
  survey: "[role=option]",
  "survey/room/G3": "[role=dialog] input",
  "survey/head/M9": "[role=dialog] input",
  schedule: "td, [role=cell]",
  "schedule/zone/09": "[role=dialog] input",
  key: "main li a",
  prove: ".actions .main:enabled",
  hand: "main a[href*='/hand/']",
  look: "main a[href*='/look/round/']",
  "look/takeover": "main input[type=radio]",
  "look/stickers": "main button",
  "look/history": "main textarea",
};

/** Shows every screen, and gives each to `look` when its own text is there. */
async function each(page, base, look) {
  for (const [path, ready] of Object.entries(screens)) {
    await page.goto(`${base}/${path}`);
    await page.locator(ready).first().waitFor({ state: "attached" });
    await look(path);
  }
}

// A screen of 1440 x 900 at 200 % has 720 x 450 left; at 400 % 360 px are left in width (WCAG 2.2, 1.4.4 and 1.4.10).
test("every screen can be read at 200 % and at 400 %", async (t) => {
  const server = await serve(t);
  const { page, job } = await openJob(t, server, "survey", {
    name: draft,
    view: { viewport: { width: 720, height: 450 }, deviceScaleFactor: 2 },
  });
  const base = `${server.url}/job/${job}`;
  await each(page, base, async () => {
    for (const width of [720, 360]) {
      await page.setViewportSize({ width, height: 450 });
      await assertFits(page);
    }
  });
});

test("every screen is whole in German", async (t) => {
  const server = await serve(t);
  const { page, job } = await openJob(t, server, "survey", { name: draft, locale: "de-DE" });
  const base = `${server.url}/job/${job}`;
  assert.equal(await page.locator("html").getAttribute("lang"), "de");
  const typed = await textsOf(base);
  await each(page, base, async (path) => {
    await assertFits(page);
    await assertAccessible(page);
    await shot(page, `german-${path.replaceAll("/", "-")}`);
    let text = await page.locator("body").ariaSnapshot();
    for (const own of typed) text = text.replaceAll(own, "");
    assert.deepEqual(text.match(/^.*\b(the|and|not|with|which|nothing|has|have|your|of|to)\b.*$/gm) ?? [], [], path);
  });
  await page.getByRole("button", { name: "Echter Rauch" }).click();
  await page.getByText("Alle hinaus").waitFor();
  await assertFits(page);
  await assertAccessible(page);
  await shot(page, "german-real-smoke");
});

/** All that people typed into a job: it stays as they typed it, in every language. Longest first. */
async function textsOf(base) {
  const { entries } = await (await fetch(`${base.replace("/job/", "/api/jobs/")}/entries?after=0&limit=1`)).json();
  const out = new Set();
  const walk = (value) => {
    if (typeof value === "string") out.add(value);
    else if (value && typeof value === "object") for (const part of Object.values(value)) walk(part);
  };
  walk(entries[0].body);
  return [...out].filter((one) => one.length > 2).sort((a, b) => b.length - a.length);
}

/** Presses Tab until the thing with that name has the focus. */
async function tabTo(page, name) {
  for (let n = 0; n < 120; n++) {
    await page.keyboard.press("Tab");
    const here = await page.evaluate(() => {
      const el = document.activeElement;
      if (!el?.matches("a, button, input, select, textarea, summary, [tabindex]")) return { name: "", ring: "none" };
      const words = el.getAttribute("aria-label") ?? el.labels?.[0]?.textContent ?? el.textContent;
      return { name: words.trim(), ring: getComputedStyle(el).outlineStyle };
    });
    if (!name.test(here.name)) continue;
    assert.notEqual(here.ring, "none", `the focus on ${name} can be seen`);
    return;
  }
  assert.fail(`no Tab leads to ${name}`);
}

test("a room, a mended stop and the way through the stages by keyboard alone", async (t) => {
  const server = await serve(t);
  const { page, job } = await openJob(t, server, "survey", { name: draft, view: views.desk });
  const base = `${server.url}/job/${job}`;
  const press = async (name) => {
    await tabTo(page, name);
    await page.keyboard.press("Enter");
  };
  await page.goto(`${base}/survey`);
  await page.getByRole("button", { name: "Add what you see" }).waitFor();
  await press(/^Add what you see/);
  await page.getByRole("button", { name: /^A room/ }).waitFor();
  await press(/^A room/);
  await page.getByLabel("Name", { exact: true }).waitFor();
  await tabTo(page, /^Name$/);
  await page.keyboard.type("Boat store");
  await page.keyboard.press("Enter");
  await page.getByText("Boat store added.").waitFor();
  await page.keyboard.press("Escape");
  await page.getByRole("dialog").waitFor({ state: "detached" });

  await press(/Schedule/);
  await page.getByRole("heading", { name: "Schedule", level: 1 }).waitFor();
  const stops = async () =>
    Number((await page.getByRole("link", { name: /Schedule/ }).textContent()).match(/(\d+) stops/)[1]);
  const before = await stops();
  await press(/^(Set|Use|Exempt|Do not allow|Apply|Change|Mend)/);
  await page.waitForFunction((n) => !document.querySelector("nav").textContent.includes(`${n} stops`), before);
  assert.equal(await stops(), before - 1);

  for (const name of ["Key in", "Prove", "Hand over", "Look after"]) {
    await press(new RegExp(name));
    await page.getByRole("heading", { level: 1, name }).waitFor();
  }
});
