// Proposed alarms: ghosts on the plan with their reasons, taken one by one; nothing of it wears the mark of proof.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, inBoth, keptOffline, openJob, serve, shot, views } from "./harness.js";

const ghosts = (page) => page.locator("svg circle[stroke-dasharray], svg g > circle").filter({ visible: true });

test("the page fits and is accessible; a proposal is taken with no network and nothing is left to add", async (t) => {
  const server = await serve(t);
  const { page } = await openJob(t, server, "survey/placing");
  const take = page.getByRole("button", { name: /^Take M\d+ into the plan$/ });
  await take.first().waitFor();
  await page.getByText("Planning estimate. Measure on site.").first().waitFor();
  assert.ok((await ghosts(page).count()) > 0, "what is proposed stands on the plan");
  for (const [view, { viewport }] of Object.entries(views)) {
    await page.setViewportSize(viewport);
    await assertFits(page, { target: view === "phone" ? 56 : 44 });
    await inBoth(page, async (scheme) => {
      await assertAccessible(page);
      await shot(page, `placing-${view}-${scheme}`);
    });
  }
  await page.getByRole("button", { name: "detectors of the panel" }).click();
  await page
    .getByText(/^radio margin about/)
    .first()
    .waitFor();
  await page.getByRole("button", { name: "joined alarms" }).click();

  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();
  await page.reload();
  await take.first().click();
  await page.getByText("By these rules and estimates nothing has to be added.").waitFor();
  assert.ok(await page.getByRole("button", { name: /^Take/ }).last().isDisabled());
});
