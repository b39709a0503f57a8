// Reach: sentences first, each figure a range; a room with its drawing and its sum; what a change costs is typed over, and with no
// network all of it is there as well.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, inBoth, keptOffline, openJob, serve, shot, views } from "./harness.js";

test("what alone cuts the way stands first; a room is opened with its drawing and its sum", async (t) => {
  const server = await serve(t);
  const { page } = await openJob(t, server, "survey/reach");
  await page
    .getByText(/^If .* no fire reaches the station; noticed/)
    .first()
    .waitFor();
  await page
    .getByText(/^Planning estimate from assumed failure rates/)
    .first()
    .waitFor();
  await page.getByText(/^For what it costs, this helps most/).waitFor();
  for (const [view, { viewport }] of Object.entries(views)) {
    await page.setViewportSize(viewport);
    await assertFits(page, { target: view === "phone" ? 56 : 44 });
    await inBoth(page, async (scheme) => {
      await assertAccessible(page);
      await shot(page, `reach-${view}-${scheme}`);
    });
  }
  await page.getByRole("link", { name: "Guest room Alder" }).click();
  await page.getByRole("heading", { name: "Guest room Alder", exact: true }).waitFor();
  await page.getByText(/^Minimal cut sets: /).waitFor();
  assert.ok((await page.getByRole("img", { name: /signal runs from the top/ }).count()) === 1, "the way is drawn");
  for (const [view, { viewport }] of Object.entries(views)) {
    await page.setViewportSize(viewport);
    await assertFits(page, { target: view === "phone" ? 56 : 44 });
    await inBoth(page, async (scheme) => {
      await assertAccessible(page);
      await shot(page, `reach-room-${view}-${scheme}`);
    });
  }
  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();
  await page.reload();
  await page.getByRole("link", { name: "All rooms" }).click();
  await page.getByText(/^For what it costs, this helps most: A second bridge/).waitFor();
  const cost = page
    .getByRole("listitem")
    .filter({ hasText: "A second bridge beside another head" })
    .getByLabel("Costs");
  await cost.fill("500");
  await cost.press("Enter");
  await page.getByText(/^For what it costs, this helps most: (?!A second bridge)/).waitFor();
  await page.getByRole("link", { name: "Guest room Willow" }).click();
  await page
    .getByText(
      /^If head M4, beside which Acoustic bridge, zone 09, 10 listens, fails, no fire in Guest room Willow reaches the station/,
    )
    .waitFor();
});
