// The history of a station, read on the device: pasted, as a file, as practice; asked, corrected, kept; drawn to zoom.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, draft, inBoth, keptOffline, openJob, serve, shot, views } from "./harness.js";

/** Opens the history of the drafted Larkwater Mill with somebody at work. */
async function history(t, server, options) {
  const { page } = await openJob(t, server, "look/history", { name: draft, ...options });
  await page.getByLabel("Paste the history").waitFor();
  return page;
}

const practise = async (page) => {
  await page.getByRole("button", { name: "Try the practice history" }).click();
  await page.getByText("3 things stand out in 1315 events").waitFor({ timeout: 30_000 });
};

for (const [name, view] of Object.entries(views)) {
  test(`what a history speaks for fits and is accessible, light and dark: ${name}`, async (t) => {
    const server = await serve(t);
    const page = await history(t, server, { view });
    const look = (what) =>
      inBoth(page, async (scheme) => {
        await assertAccessible(page);
        await assertFits(page, { target: name === "phone" ? 56 : 44 });
        await shot(page, `history-${what}-${name}-${scheme}`);
      });
    const folds = (open) =>
      page.evaluate((open) => {
        for (const fold of document.querySelectorAll("details")) fold.open = open;
      }, open);
    await look("empty");
    await practise(page);
    await page.getByRole("button", { name: "Mark on the timeline" }).first().click();
    for (const fold of ["Why it is named", "What is seen, as a table"]) await page.getByText(fold).first().click();
    await folds(true);
    await look("open");
    await folds(false);
    await inBoth(page, (scheme) => shot(page, `history-folded-${name}-${scheme}`));
    await page.getByRole("application").scrollIntoViewIfNeeded();
    await inBoth(page, (scheme) => shot(page, `history-time-${name}-${scheme}`, { fullPage: false }));
    await page.goto(page.url().replace("/history", ""));
    await page.getByRole("link", { name: /what the station's history speaks for/ }).click();
    // Coming back does not lose it: but a page that was loaded anew has nothing.
    await page.getByLabel("Paste the history").waitFor();
  });
}

test("the timeline comes closer by buttons, keys, wheel and a drag, and says what is there", async (t) => {
  const server = await serve(t);
  const page = await history(t, server, { view: views.desk });
  await practise(page);
  const seen = page.getByRole("status").filter({ hasText: / marks$/ });
  const marks = async () => Number((await seen.textContent()).match(/(\d+) marks/)[1]);
  const all = await marks();
  await page.getByRole("button", { name: "Closer" }).click();
  const half = await marks();
  assert.ok(half < all && half > 0, `${half} of ${all} marks after coming closer`);
  const plot = page.getByRole("application");
  await plot.focus();
  await page.keyboard.press("+");
  const quarter = await marks();
  assert.ok(quarter < half);
  await page.keyboard.press("ArrowLeft");
  const before = await seen.textContent();
  const box = await plot.boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + 60);
  await page.mouse.wheel(0, -240);
  await page.waitForFunction((text) => !document.body.textContent.includes(text), before);
  assert.ok((await marks()) < quarter);
  const still = await seen.textContent();
  await page.mouse.down();
  await page.mouse.move(box.x + box.width / 2 + 200, box.y + 60, { steps: 4 });
  await page.mouse.up();
  assert.notEqual(await seen.textContent(), still);
  await page.keyboard.press("0");
  assert.equal(await marks(), all);
  // Somewhere on the busiest lane there is a mark under the pointer.
  for (let x = 20; x < box.width; x += 24) {
    const again = await plot.boundingBox();
    await page.mouse.click(again.x + x, again.y + 38 + 30);
    if (await page.getByText(/\(line \d+\)$/).count()) break;
  }
  await page.getByText(/\(line \d+\)$/).waitFor();
});

test("in German it fits as well", async (t) => {
  const server = await serve(t);
  const page = await history(t, server);
  await page.evaluate(() => localStorage.setItem("proofbell.language", "de"));
  await page.reload();
  await page.getByRole("button", { name: "Übungsverlauf lesen" }).click();
  await page.getByText("3 Auffälligkeiten in 1315 Meldungen").waitFor({ timeout: 30_000 });
  await page.evaluate(() => {
    for (const fold of document.querySelectorAll("details")) fold.open = true;
  });
  await assertFits(page);
  await assertAccessible(page);
  await shot(page, "history-german");
});

test("two fingers zoom on a phone", async (t) => {
  const server = await serve(t);
  const page = await history(t, server);
  await practise(page);
  const seen = page.getByRole("status").filter({ hasText: / marks$/ });
  const before = await seen.textContent();
  const plot = page.getByRole("application");
  await plot.scrollIntoViewIfNeeded();
  await plot.evaluate((element) => {
    const box = element.getBoundingClientRect();
    const at = (type, pointerId, x) =>
      element.dispatchEvent(
        new PointerEvent(type, {
          pointerId,
          clientX: box.left + x,
          clientY: box.top + 50,
          bubbles: true,
          pointerType: "touch",
        }),
      );
    element.setPointerCapture = () => undefined; // these pointers are made up
    at("pointerdown", 11, 150);
    at("pointerdown", 12, 200);
    for (const x of [210, 240, 280]) at("pointermove", 12, x);
    at("pointerup", 12, 280);
    at("pointerup", 11, 150);
  });
  assert.notEqual(await seen.textContent(), before);
});

test("what can not be told is asked, columns are corrected and kept for the station", async (t) => {
  const server = await serve(t);
  const page = await history(t, server);
  const lines = ["When;Was;Wo;Note"];
  for (let i = 1; i <= 12; i++) lines.push(`${String(i).padStart(2, "0")}/05/2026 10:00;E131;003;${i}`);
  await page
    .getByLabel("Paste the history")
    .fill(["05/06/2026 10:00;E131;003", "05/06/2026 10:05;R131;003"].join("\n"));
  await page.getByRole("button", { name: "Read it" }).click();
  const asked = page.getByRole("group", { name: "Is 05/06/2026 the day before the month" });
  await asked.getByText("05/06/2026: day, month, year").click();
  await page.getByText("there are 0 days and 2.").waitFor();
  await page.getByRole("button", { name: "Read another history" }).click();

  await page.getByLabel("Paste the history").fill(lines.join("\n"));
  await page.getByRole("button", { name: "Read it" }).click();
  await page.getByText("How it was read").waitFor({ timeout: 20_000 });
  await page.evaluate(() => {
    for (const fold of document.querySelectorAll("details")) fold.open = true;
  });
  // The first to the twelfth of May or the fifth of every month: both are in order, so it is asked again.
  await page.getByLabel("Order of dates").selectOption("day-month-year");
  await page.getByText("in 12 events of 11 days").waitFor(); // alarms at ten, and never a restore
  await page.getByLabel("Note", { exact: true }).selectOption("remark");
  await page.getByText("as it was kept").first().waitFor();
  await page.getByRole("button", { name: "Keep for this station" }).click();
  await page.getByRole("button", { name: "Kept for this station" }).waitFor();

  // The next history of this station is read the same way, with nothing asked.
  await page.getByRole("button", { name: "Read another history" }).click();
  await page.getByLabel("Paste the history").fill(["Wo;When;Was", "003;05/06/2026 10:00;E131"].join("\n"));
  await page.getByRole("button", { name: "Read it" }).click();
  await page.getByText("there are 0 days and 1.").waitFor();
  await page.evaluate(() => {
    for (const fold of document.querySelectorAll("details")) fold.open = true;
  });
  await page.getByText("as it was kept, found by its heading").first().waitFor();
});

test("with no signal, and a large file does not hold up the page", async (t) => {
  const server = await serve(t);
  const page = await history(t, server);
  await keptOffline(page);
  page.networkMayFail = true;
  await page.context().setOffline(true);
  await practise(page);
  await page.getByRole("button", { name: "Read another history" }).click();

  const rows = ["Date,Time,Code,Zone"];
  const at = Date.parse("2025-01-01T00:00:00Z");
  for (let i = 0; i < 200_000; i++) {
    const stamp = new Date(at + i * 150_000).toISOString();
    rows.push(
      `${stamp.slice(0, 10)},${stamp.slice(11, 19)},${i % 2 ? "R" : "E"}131,${String(1 + ((i >> 1) % 40)).padStart(3, "0")}`,
    );
  }
  const file = { name: "year.csv", mimeType: "text/csv", buffer: Buffer.from(rows.join("\n")) };
  await page.getByLabel("Choose a file").setInputFiles(file);
  await page.getByText("Reading 200001 lines on this device.").waitFor();
  // The page answers while the engine works: stopping it is one tap.
  await page.getByRole("button", { name: "Stop reading" }).click();
  await page.getByLabel("Paste the history").waitFor();
  await page.getByLabel("Choose a file").setInputFiles(file);
  await page.getByText("Reading 200001 lines").waitFor();
  await page.getByText("200000 events").first().waitFor({ timeout: 90_000 });
  await page.getByText("Very many events").waitFor();
  await shot(page, "history-large");
});
