// Power: the battery's sum follows what is typed in place, key by key, and is kept; the plot, what fits and the sheets stand with it.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, inBoth, keptOffline, openJob, serve, shot, views } from "./harness.js";

test("the battery's sheet fits, is accessible, and follows a typed value with no network", async (t) => {
  const server = await serve(t);
  const { page } = await openJob(t, server, "survey/power");
  await page.getByText("11.6 Ah needed, 12 Ah fitted: it suffices by this sum.").first().waitFor();
  await page.getByRole("img", { name: /empty after/ }).waitFor();
  for (const [view, { viewport }] of Object.entries(views)) {
    await page.setViewportSize(viewport);
    await assertFits(page, { target: view === "phone" ? 56 : 44 });
    await inBoth(page, async (scheme) => {
      await assertAccessible(page);
      await shot(page, `power-${view}-${scheme}`, { fullPage: true });
    });
  }
  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();

  await page
    .getByRole("button", { name: /^Change Current at rest: 0.38 A/ })
    .first()
    .click();
  const box = page.getByRole("textbox", { name: "Current at rest" });
  await box.fill("460 mA"); // 24 x 0.46 + 8/60 x 1.3 = 11.2133; x 1.25 = 14.02
  await page.getByText("14.0 Ah needed, 12 Ah fitted: too small.").first().waitFor();
  await box.fill("460 mV");
  await page
    .getByText(/is not a current/)
    .first()
    .waitFor();
  await box.fill("460 mA");
  await page.getByRole("button", { name: "Keep this value" }).click();
  await page
    .getByRole("button", { name: /^Change Current at rest: 460 mA/ })
    .first()
    .waitFor();
  await page.getByText("14.0 Ah needed, 12 Ah fitted: too small.").first().waitFor();
  assert.ok(await page.getByText("the smallest that fits").isVisible());
});

test("circuits: every page fits and is accessible, a typed cable moves the far voltage, a measured loop is named", async (t) => {
  const server = await serve(t);
  const { page } = await openJob(t, server, "survey/circuit");
  const look = async (name) => {
    for (const [view, { viewport }] of Object.entries(views)) {
      await page.setViewportSize(viewport);
      await assertFits(page, { target: view === "phone" ? 56 : 44 });
      await inBoth(page, async (scheme) => {
        await assertAccessible(page);
        await shot(page, `circuit-${name}-${view}-${scheme}`, { fullPage: true });
      });
    }
  };
  const sounders = page.getByRole("link", { name: /^– Bell box and inside sounders|^Bell box and inside sounders/ });
  await sounders.waitFor();
  await look("list");

  await sounders.click();
  await page.getByText("Workshop sounder: 9.82 V").waitFor();
  await page.getByText("Planning estimate. Measure on site.").waitFor();
  await look("drop");
  // 38 m become 76: 0.2 A through another 38 m there and back of 22.61 ohm/km is 0.344 V less.
  await page.getByRole("button", { name: /^Change Workshop sounder: length of its cable/ }).click();
  await page.getByRole("textbox", { name: "Workshop sounder: length of its cable" }).fill("249.34 ft");
  await page.getByText("Workshop sounder: 9.47 V").waitFor();
  await page.getByRole("button", { name: "Keep this value" }).click();
  await page.getByRole("button", { name: "Change Workshop sounder: length of its cable: 249.34 ft" }).waitFor();

  await page.getByRole("link", { name: "All circuits" }).click();
  await page.getByRole("link", { name: /Workshop key switch/ }).click();
  const measured = page.getByLabel(/^I measured/);
  await measured.fill("4.7 kilohm");
  await page.getByText(/^. Normal$/).waitFor();
  await measured.fill("300");
  await page.getByText(/Outside every window$/).waitFor();
  await look("loop");
});
