// What the panel holds, on a phone: read out with no network, laid beside the plan, programmed where it differs, rolled back.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, keptOffline, openJob, serve, shot, views } from "./harness.js";
import { listed, main, zone09 } from "./keying.js";

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
  const keys = async () =>
    Number(
      /(\d+) keys/.exec(
        await page
          .getByText(/\d+ keys, about/)
          .first()
          .textContent(),
      )[1],
    );
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

test("lost while a zone is put back: it counts when it was read back, is keyed anew when that is in doubt, and a reload loses nothing", async (t) => {
  const server = await serve(t);
  const { page, job } = await openJob(t, server, "key/readout");
  // Zone 09 was found with a word missing; then it was keyed as planned.
  await page.getByText("From a file").click();
  const zone = { ...zone09, words: "31 05" };
  const file = JSON.stringify({ format: "proofbell.zones/1", panel: "ladder", zones: { "09": zone } });
  await page
    .getByLabel("Choose a file")
    .setInputFiles({ name: "zones.json", mimeType: "application/json", buffer: Buffer.from(file) });
  await page.getByRole("button", { name: "Take it as found" }).click();
  await page.getByText("Taken: one zone.").waitFor();
  // It was half read when it is keyed: what was seen before does not count then, neither here nor on another phone.
  const half = `proofbell.readout.${job}`;
  await page.goto(`${server.url}/job/${job}/key/readout/zone/09`);
  await page.getByText("Card 1 of 13.").waitFor();
  await main(page).click();
  await page.getByText("Card 2 of 13.").waitFor();
  // The panel waits for nobody: it dropped the zone while the phone slept, and the zone is read from its first card.
  await page.getByText("Zone dropped in about", { exact: false }).waitFor();
  await page.evaluate((slot) => {
    const at = JSON.parse(localStorage.getItem(slot));
    localStorage.setItem(slot, JSON.stringify({ ...at, last: at.last - 150_000 }));
  }, half);
  await page.reload();
  await page.getByRole("button", { name: "It shows TOO SLOW, ZONE DROPPED" }).click();
  await page.getByText("Card 1 of 13.").waitFor();
  await main(page).click();
  await page.getByText("Card 2 of 13.").waitFor();
  const seen = await page.evaluate((slot) => localStorage.getItem(slot), half);
  await page.goto(`${server.url}/job/${job}/key/zone/09/1`);
  await page.getByText("Answer 1 of", { exact: false }).waitFor();
  await tick(page, "Answer");
  await page.getByText("read back what is stored").waitFor();
  assert.equal(await page.evaluate((slot) => localStorage.getItem(slot), half), null);
  await page.evaluate(([slot, seen]) => localStorage.setItem(slot, seen), [half, seen]);
  await page.goto(`${server.url}/job/${job}/key/readout/zone/09`);
  await page.getByText("what was seen does not count", { exact: false }).waitFor();
  await page.getByText("Card 1 of 13.").waitFor();
  await assertFits(page, { target: 56 });
  await shot(page, "readout-anew");
  const entries = await listed(page, server, job, ({ body }) => body.act === "kept");
  const table = entries.find(({ kind }) => kind === "readout").id;

  await page.goto(`${server.url}/job/${job}/key/readout/back/${table}`);
  const begin = page.getByRole("button", { name: "Key zone 09 as it was found" });
  const card = (n) => page.getByText(new RegExp(`^Card ${n} of \\d+\\.$`)).waitFor();
  const stray = async (n) => {
    await card(n);
    const shown = `NOT TAKEN / ${await page.locator(".display .panel").first().textContent()}`;
    await page.getByRole("button", { name: "I see something else" }).click();
    const sheet = page.getByRole("dialog");
    await sheet.getByLabel("Type its first letters").fill(shown);
    await sheet.getByRole("button", { name: shown, exact: true }).click();
    await page.getByRole("button", { name: `On with card ${n}` }).click();
    await card(n);
  };
  const on = async (from, to) => {
    for (let n = from; n < to; n++) {
      await card(n);
      await main(page).click();
    }
  };
  const kept = page.getByRole("button", { name: "It does. Zone is kept" });

  // The cards key only what differs from what is not sure any more.
  await begin.click();
  await on(1, 4);
  await page.getByText("Zone dropped in about", { exact: false }).waitFor();
  await assertFits(page, { target: 56 });
  await shot(page, "readout-back-card");
  await stray(4);
  await page.reload();
  await card(4);
  for (let n = 4; !(await kept.isVisible()); n++) await on(n, n + 1);
  await kept.click();
  await page.getByText("What the panel holds in zone 09 is not sure any more.").waitFor();
  await assertFits(page);
  await shot(page, "readout-unsure");

  // Now they key all of it. Lost once more: what is kept counts when it was read back.
  await begin.click();
  await on(1, 3);
  await stray(3);
  for (let n = 3; !(await kept.isVisible()); n++) await on(n, n + 1);
  await kept.click();
  await page.getByText("read back what is stored").waitFor();
  await page.reload();
  await page.getByText("read back what is stored").waitFor();
  const told = async () =>
    (await listed(page, server, job, () => true))
      .filter(({ kind }) => kind === "keying")
      .map(({ body }) => (body.unsure ? `${body.act}, not sure` : body.act));
  assert.deepEqual(await told(), ["begun", "kept", "lost", "kept, not sure", "lost"]);
  const done = page.getByRole("button", { name: "As stored. Done" });
  for (let n = 14; !(await done.isVisible()); n++) await on(n, n + 1);
  await done.click();
  await page.getByText("The panel holds what was found").waitFor();
  await listed(page, server, job, ({ body }) => body.good);
  assert.deepEqual((await told()).slice(5), ["kept", "checked"]);
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
