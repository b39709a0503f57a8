// Sound and radio on the plan: an estimate that says so, with its sum, its field and what a meter reading makes of it.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, draft, inBoth, keptOffline, openJob, serve, shot, views } from "./harness.js";

const proof = "rgb(23, 98, 74)";
const field = (page) => page.locator("path.tint").first();

async function begin(t, path = "survey/sound", look = {}) {
  const server = await serve(t);
  const { page, job } = await openJob(t, server, path, look);
  await page.getByRole("table").getByRole("button").first().waitFor();
  await field(page).waitFor({ state: "attached" });
  return { server, page, job };
}

/** Both sizes, light and dark. */
async function assertGood(page, name) {
  for (const [view, { viewport }] of Object.entries(views)) {
    await page.setViewportSize(viewport);
    await assertFits(page, { target: view === "phone" ? 56 : 44 });
    await inBoth(page, async (scheme) => {
      await assertAccessible(page);
      await shot(page, `fields-${name}-${view}-${scheme}`);
    });
  }
}

/** An estimate says what it is and wears nothing of proof. */
async function assertEstimate(page) {
  await page.getByText("Planning estimate. Measure on site.").first().waitFor();
  await page.getByText("Estimate: confirm by meter").waitFor();
  const colours = await page
    .locator("main, main *")
    .evaluateAll((all) => all.flatMap((one) => ["color", "fill", "stroke"].map((name) => getComputedStyle(one)[name])));
  assert.ok(!colours.includes(proof), "green is proof and nothing else");
}

test("sound: page, sum and reading fit and are accessible, light and dark; nothing wears the mark of proof", async (t) => {
  const { page } = await begin(t);
  await assertEstimate(page);
  await assertGood(page, "sound");
  await page.getByRole("table").getByRole("button").first().click();
  const sheet = page.getByRole("dialog");
  await sheet.getByText("The sum, term by term").waitFor();
  await sheet.getByText("Planning estimate. Measure on site.").waitFor();
  assert.ok((await sheet.locator("dl > div").count()) > 2, "the sum has its terms");
  await assertGood(page, "sound-sum");
  await sheet.getByRole("button", { name: "Enter a meter reading here" }).click();
  await sheet.getByRole("heading", { name: "Meter reading" }).waitFor();
  await assertGood(page, "sound-reading");
});

test("doors, one alarm and one failed change what is drawn; the steps differ in grey", async (t) => {
  const { page } = await begin(t, "survey/sound", { view: views.desk });
  const drawn = () => page.locator("path.tint").evaluateAll((all) => all.map((one) => one.getAttribute("d")).join());
  const changes = async (act) => {
    const before = await drawn();
    await act();
    await page.waitForFunction((before) => {
      const now = [...document.querySelectorAll("path.tint")].map((one) => one.getAttribute("d")).join();
      return now !== "" && now !== before;
    }, before);
  };
  await changes(() => page.getByRole("group", { name: "Doors" }).getByRole("button", { name: "open" }).click());
  await changes(() => page.getByLabel("What sounds").selectOption("without /heads/M1"));
  await changes(() => page.getByLabel("What sounds").selectOption("only /heads/M1"));
  const rulings = await page
    .locator(".legend pattern")
    .evaluateAll((all) => new Set(all.map((one) => one.innerHTML)).size);
  assert.ok(rulings >= 4, "each step is ruled in its own way");
});

test("a reading changes the table, with no network too", async (t) => {
  const { server, page } = await begin(t);
  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();
  await page.reload();
  await page.getByRole("table").getByRole("button").first().click();
  const sheet = page.getByRole("dialog");
  await sheet.getByRole("button", { name: "Enter a meter reading here" }).click();
  await sheet.getByLabel("The meter shows, dBA").fill("7");
  assert.ok(await sheet.getByRole("button", { name: "Keep the reading" }).isDisabled(), "7 dBA is no reading");
  await sheet.getByLabel("The meter shows, dBA").fill("61,5");
  await sheet.getByRole("button", { name: "Keep the reading" }).click();
  await sheet.waitFor({ state: "detached" });
  await page.getByText("61.5 measured").first().waitFor();
  await page.getByText("Measured at one place: from three readings on they move the model.").waitFor();

  // One alone can be taken away as well, and put back.
  await page.getByRole("button", { name: /^Take away the reading: / }).click();
  await page.getByText("61.5 measured").first().waitFor({ state: "detached" });
  await page
    .getByText(/^Taken away: /)
    .getByRole("button", { name: "Undo" })
    .click();
  await page.getByText("61.5 measured").first().waitFor();
});

test("radio: the draft's short links, a repeater proposed and taken in, a measured strength", async (t) => {
  const { page } = await begin(t, "survey/radio", { name: draft });
  await assertEstimate(page);
  await assertGood(page, "radio");
  await page.getByRole("button", { name: /too little/ }).waitFor();
  await page.getByRole("table").getByRole("button").first().click();
  const sheet = page.getByRole("dialog");
  await sheet.getByText("The sum, term by term").waitFor();
  await assertGood(page, "radio-link");
  await sheet.getByRole("button", { name: "Enter what was measured" }).click();
  await sheet.getByLabel("Received with, dBm").fill("97,5");
  await assertGood(page, "radio-reading");
  await sheet.getByRole("button", { name: "Keep the reading" }).click();
  await sheet.waitFor({ state: "detached" });
  await page
    .getByText(/measured$/)
    .first()
    .waitFor();

  await page.getByRole("button", { name: "Take place 1 into the plan" }).click();
  await page.getByText("No link is short of the wanted margin: nothing is proposed.").waitFor();
  assert.equal(
    await page.getByRole("button", { name: /too little/ }).count(),
    0,
    "what was proposed cures what was short",
  );
  await page.getByRole("button", { name: "Undo last edit" }).click();
  await page.getByRole("button", { name: "Take place 1 into the plan" }).waitFor();
});
