// The rehearsal at a simulated panel: finished from the sheet alone, by keyboard and by touch; one wrong turn; no network.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, keptOffline, openJob, serve, shot, views } from "./harness.js";

const panel = (page) => page.getByRole("region", { name: "Display of the panel" });
const marked = (page) => page.getByRole("button", { name: /, comes next$/ });

/** Chooses zone 09 alone and begins. */
async function begin(t, { coach = "shows the next key", ...look } = {}) {
  const server = await serve(t);
  const { page, job } = await openJob(t, server, "key", look);
  await page.getByRole("link", { name: "Rehearse" }).click();
  await page.getByText("one", { exact: true }).click();
  await page.getByLabel("Zone", { exact: true }).selectOption("09");
  await page.getByText("nothing", { exact: true }).click();
  await page.getByText(coach).click();
  await page.getByRole("button", { name: "Begin" }).click();
  await panel(page).getByText("ZONE?").waitFor();
  return { server, page, job };
}

/** What stands in a line of the outcome: "keys" -> "75". */
const figure = async (page, name) =>
  (
    await page
      .locator("dl > div")
      .filter({ has: page.getByText(name, { exact: true }) })
      .locator("dd")
      .first()
      .textContent()
  ).trim();

test("by keyboard, from the sheet alone, with the coach silent", async (t) => {
  const { page } = await begin(t, { view: views.desk, coach: "stays silent" });
  assert.equal(await marked(page).count(), 0, "a silent coach marks nothing");
  // The keys as they stand on the sheet beside the keypad, card by card; the sheet changes when a row of cards is done.
  let last = "";
  for (let row = 0; row < 3; row++) {
    await page.waitForFunction(
      (before) => document.querySelector("aside h2") && document.querySelector("aside h2").textContent !== before,
      last,
    );
    last = await page.locator("aside h2").textContent();
    for (const group of (await page.locator("aside kbd, aside .times").allTextContents()).flatMap((one, i, all) =>
      one.startsWith("×") ? Array(Number(one.slice(1)) - 1).fill(all[i - 1]) : [one],
    )) {
      if (group === "OK") await page.keyboard.press("Enter");
      else if (group === "BACK") await page.keyboard.press("Backspace");
      else for (const digit of group) await page.keyboard.press(digit);
    }
  }
  await panel(page).getByText("PROGRAMMING ENDED").waitFor();
  await page.getByRole("button", { name: "End and compare" }).click();
  await page.getByRole("heading", { name: "Programmed as wanted" }).waitFor();
  assert.equal(await figure(page, "wrong keys"), "0");
  assert.equal(await figure(page, "zones as wanted"), "1 / 1");
  await page.getByText("read back").waitFor();
});

test("by touch, key for key as the coach says, after a wrong turn, a reload and without a network", async (t) => {
  const { server, page } = await begin(t);
  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();
  const tap = async (name) =>
    page
      .getByRole("group", { name: "Keypad" })
      .getByRole("button", { name: new RegExp(`^${name}\\b`) })
      .tap();
  for (const key of ["0", "9", "OK"]) await tap(key);
  await panel(page).getByText("PLACE?").waitFor();
  await tap("7");
  await page.getByText("Off the sheet. The way back").waitFor();
  await page.getByText("Way back: press BACK").waitFor();
  await page.reload();
  await page.getByText("Way back: press BACK").waitFor();
  const count = page.getByText(/keys, \d+ wrong/);
  const end = page.getByText("Programming has ended.");
  for (let n = 5; !(await end.isVisible()); n++) {
    assert.ok(n < 120, "the coach comes to no end");
    await marked(page).tap();
    await count.filter({ hasText: `${n} keys` }).waitFor();
  }
  await page.getByRole("button", { name: "End and compare" }).tap();
  await page.getByRole("heading", { name: "Programmed as wanted" }).waitFor();
  assert.equal(await figure(page, "wrong keys"), "1");
  await page.getByText("One wrong key").tap();
  await page.getByText("pressed 7, the sheet says 2").waitFor();
});

test("it fits and is accessible", async (t) => {
  const { page } = await begin(t);
  const look = async (name) => {
    for (const [view, { viewport }] of Object.entries(views)) {
      await page.setViewportSize(viewport);
      await assertFits(page, { target: view === "phone" ? 56 : 44 });
      if (view === "phone" || name === "run") await assertAccessible(page);
      await shot(page, `rehearse-${name}-${view}`, { fullPage: false });
    }
    await page.setViewportSize(views.phone.viewport);
  };
  await page.keyboard.type("09");
  await page.keyboard.press("Enter");
  await panel(page).getByText("PLACE?").waitFor();
  await look("run");
  await page.keyboard.type("7");
  await page.getByText("Way back: press BACK").waitFor();
  await look("off");
  await page.getByRole("button", { name: "End and compare" }).click();
  await page.getByRole("heading", { name: "Not programmed as wanted" }).waitFor();
  await look("result");
  await page.getByRole("button", { name: "Rehearse again" }).click();
  await page.getByRole("button", { name: "Begin", exact: true }).waitFor();
  await look("begin");
});
