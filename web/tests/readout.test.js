// What the panel holds, on a phone: read out with no network, laid beside the plan, programmed where it differs, rolled back.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, keptOffline, openJob, serve, shot, views } from "./harness.js";

const main = (page) => page.locator(".actions .main");

async function begin(t, look) {
  const server = await serve(t);
  const { page, job } = await openJob(t, server, "key", look);
  await page.getByText(/zones keyed, Ladder panel/).waitFor();
  return { server, page, job };
}

/** Both sizes; accessible on the phone. */
async function assertGood(page, name) {
  for (const [view, { viewport }] of Object.entries(views)) {
    await page.setViewportSize(viewport);
    await assertFits(page, { target: view === "phone" ? 56 : 44 });
    if (view === "phone") await assertAccessible(page);
    await shot(page, `readout-${name}-${view}`);
  }
  await page.setViewportSize(views.phone.viewport);
}

/** Reads the zone in sight; what differs from the plan is typed, by prompt. */
async function read(page, differs = {}) {
  for (let n = 1; n <= 13; n++) {
    await page.getByText(`Card ${n} of 13.`).waitFor();
    const then = await page.locator(".then").textContent();
    if (differs[then]) {
      await page.getByRole("button", { name: "Something else stands there" }).click();
      const sheet = page.getByRole("dialog");
      for (const text of differs[then]) {
        await sheet.getByRole("textbox").fill(text);
        await sheet.getByRole("button", { name: "Take it" }).click();
      }
    } else await main(page).click();
  }
  await page.getByRole("heading", { level: 1 }).waitFor();
}

/** Ticks card by card to the last. */
async function tick(page, word) {
  const all = Number(
    new RegExp(`${word} 1 of (\\d+)`).exec(await page.locator(".stage, main").first().textContent())[1],
  );
  for (let n = 1; n <= all; n++) {
    await page.getByText(`${word} ${n} of ${all}.`, { exact: false }).waitFor();
    await main(page).click();
  }
}

test("two zones read with no network, the sheet shrinks, and what was found can be put back", async (t) => {
  const { server, page, job } = await begin(t);
  const keys = async () => Number(/(\d+) keys/.exec(await page.locator("summary").first().textContent())[1]);
  const before = await keys();
  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();

  await page.getByRole("link", { name: "As found: read the panel out" }).click();
  await page.getByRole("link", { name: "Read zone 09 Mains alarms smoke" }).click();
  await read(page);
  await page.getByText("Read: as planned.").waitFor();
  await main(page).click();
  // Zone 11 was left as burglary; a slip is told, and a reload in the middle costs nothing.
  await page.getByText("Card 1 of 13.").waitFor();
  const second = /zone\/(\d+)/.exec(page.url())[1];
  await main(page).click();
  await page.getByText("Card 2 of 13.").waitFor();
  await page.reload();
  await page.getByText("Card 2 of 13.").waitFor();
  await page.getByRole("button", { name: "One back" }).click();
  await read(page, { "DANGER?": ["Y", "L"] });
  await page.getByText("Read: it differs from the plan.").waitFor();
  assert.deepEqual(
    await page
      .locator("tbody tr")
      .allInnerTexts()
      .then((rows) => rows.map((row) => row.split(/\s+/)[0])),
    ["kind"],
  );

  await page.getByRole("link", { name: "All zones" }).click();
  await page.getByText("Where the panel differs").waitFor();
  await page.getByRole("link", { name: "To the keying sheet" }).click();
  await page.getByText("1 of 33 zones keyed", { exact: false }).waitFor();
  assert.ok((await keys()) < before, "the sheet has fewer keys than before");
  assert.equal(
    await page
      .getByRole("link", { name: /Mains alarms smoke/ })
      .filter({ hasText: "to key" })
      .count(),
    0,
  );

  // It is keyed as planned, and then what was found is put back.
  await page.goto(page.url().replace(/\/key.*/, `/key/zone/${second}/1`));
  await page.getByText("Answer 1 of", { exact: false }).waitFor();
  await tick(page, "Answer");
  await page.getByText("read back what is stored").waitFor();
  await page.goto(page.url().replace(/\/key.*/, "/key/readout"));
  await page.getByRole("link", { name: "Go back: one zone to key" }).click();
  await page.getByText("This puts back what was found, with every fault that it had.", { exact: false }).waitFor();
  await assertFits(page, { target: 56 });
  await assertAccessible(page);
  await shot(page, "readout-back");
  await page.getByRole("button", { name: `Key zone ${second} as it was found` }).click();
  await page.getByText("This zone gets what was found in it").waitFor();
  await tick(page, "Card");
  await page.getByText("The panel holds what was found").waitFor();
  await main(page).click();
  await page.getByText("the panel holds this").waitFor();
  assert.equal(
    await page.evaluate(() => document.querySelectorAll(".zone").length),
    1,
    `only zone ${second} of job ${job} differs again`,
  );
});

test("list, card, sheet and outcome fit and are accessible", async (t) => {
  const { page } = await begin(t);
  await page.goto(page.url().replace(/\/key.*/, "/key/readout"));
  await main(page).waitFor();
  await assertGood(page, "list");
  await main(page).click();
  await page.getByText("Card 1 of 13.").waitFor();
  for (let n = 0; n < 2; n++) await main(page).click();
  await page.getByText("Card 3 of 13.").waitFor();
  await assertGood(page, "card");
  await page.getByRole("button", { name: "Something else stands there" }).click();
  await page.getByRole("dialog").getByRole("textbox").fill("Y");
  await page.getByRole("dialog").getByRole("button", { name: "Take it" }).click();
  await page.getByText("Y is no answer of this panel here").waitFor();
  await assertGood(page, "seen");
  await page.getByRole("button", { name: "It does stand there: keep" }).click();
  for (let n = 4; n <= 13; n++) {
    await page.getByText(`Card ${n} of 13.`).waitFor();
    await main(page).click();
  }
  await page.getByText("Read: it differs from the plan.").waitFor();
  await assertGood(page, "outcome");
  await page.getByRole("link", { name: "All zones" }).click();
  await page.getByText("Where the panel differs").waitFor();
  await assertGood(page, "differs");
});
