// The keying sheet on a phone: one prompt, one card; what is kept is marked, and a break costs nothing.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, openJob, serve, shot, views } from "./harness.js";
import { listed, main, zone09 } from "./keying.js";

async function begin(t, name) {
  const server = await serve(t);
  const { page, job } = await openJob(t, server, "key", { name });
  await page.getByText(/zones keyed, Ladder panel/).waitFor();
  return { page, server, job };
}

test("zone 09 is keyed card by card, kept, checked, and marked", async (t) => {
  const { page, server, job } = await begin(t);
  await page.getByText("Put the account on test first.").waitFor();
  await main(page).click();
  const pressed = [];
  for (let n = 1; n <= 13; n++) {
    await page.getByText(`Answer ${n} of 13.`, { exact: false }).waitFor();
    pressed.push(...(await page.locator("kbd").allTextContents()).filter((key) => key !== "OK"));
    if (n === 5) {
      await page.goto(`${server.url}/job/${job}/survey`);
      await page.getByRole("heading", { level: 1 }).waitFor();
      await page.goto(`${server.url}/job/${job}/key`);
      await page.getByRole("button", { name: "Go on: zone 09, answer 5" }).click();
      await page.getByText("Answer 5 of 13.", { exact: false }).waitFor();
    }
    if (n === 7) {
      await page.getByRole("button", { name: "Jump" }).click();
      await page.getByRole("dialog").getByRole("button", { name: "DANGER?" }).click();
      await page.getByText("Answer 4 of 13.", { exact: false }).waitFor();
      for (let back = 4; back < 7; back++) await main(page).click();
      await page.getByText("Answer 7 of 13.", { exact: false }).waitFor();
    }
    await main(page).click();
  }
  // Trade practice for this panel: zone, place A, words 31 32 05 00, smoke, both paths, 111, no, no, radio, tag, A, 200 s, yes.
  assert.equal(
    pressed.join(" "),
    "09 2 31 32 05 00 7777 2 111 66 66 777 22 777 0010 13 2 1 999",
    "letters lie on the number keys as on a telephone",
  );
  await page.getByText("read back what is stored").waitFor();
  await main(page).click();
  await page.getByText("and has stored").waitFor();
  await page.goto(`${server.url}/job/${job}/key`);
  await page.getByText("1 of 33 zones keyed", { exact: false }).waitFor();
  const entries = await listed(page, server, job, ({ body }) => body.act === "kept");
  const [begun, kept, ...more] = entries.filter(({ kind }) => kind === "keying").map(({ body }) => body);
  assert.equal(begun.act, "begun");
  assert.equal(kept.act, "kept");
  assert.deepEqual(kept.slots, zone09);
  assert.equal(kept.ms.length, 13, "a time for each card");
  assert.deepEqual(
    kept.ms,
    kept.ms.toSorted((a, b) => a - b),
  );
  assert.deepEqual(more, []);
});

test("a zone with a stop is not keyed and says why", async (t) => {
  const { page } = await begin(t, "Larkwater Mill, first draft");
  const row = page.getByRole("listitem").filter({ hasText: "Workshop fire button" });
  await row.getByText("STOP").first().waitFor();
  assert.equal(await row.getByRole("link").count(), 0);
});

test("list, card and help fit and are accessible", async (t) => {
  const { page } = await begin(t);
  const look = async (name) => {
    for (const [view, { viewport }] of Object.entries(views)) {
      await page.setViewportSize(viewport);
      for (const colorScheme of ["light", "dark"]) {
        await page.emulateMedia({ colorScheme });
        await assertFits(page, { target: view === "phone" ? 56 : 44 });
        if (view === "phone") await assertAccessible(page);
        if (view === "phone" && colorScheme === "light") await shot(page, `key-${name}`);
      }
    }
    await page.setViewportSize(views.phone.viewport);
  };
  await page.getByText("For the whole panel: on no card").click();
  await page.getByText("Exit delay").waitFor();
  await look("list");
  await main(page).click();
  for (let n = 1; n < 10; n++) {
    await page.getByText(`Answer ${n} of 13.`, { exact: false }).waitFor();
    await main(page).click();
  }
  await page.getByText("Answer 10 of 13.", { exact: false }).waitFor();
  await look("card");
  await page.getByRole("button", { name: "I see something else" }).click();
  await page.getByRole("dialog").waitFor();
  await look("lost");
});
