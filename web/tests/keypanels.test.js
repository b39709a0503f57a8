// The other two panels, with no signal: a zone keyed by its cards and read back, then read out, against a simulated panel.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, keptOffline, openJob, serve, shot, views } from "./harness.js";
import { hang, listed, main, panelBeside, press, read } from "./keying.js";

async function look(page, name) {
  for (const [view, { viewport }] of Object.entries(views)) {
    await page.setViewportSize(viewport);
    await assertFits(page, { target: view === "phone" ? 56 : 44 });
    if (view === "phone") await assertAccessible(page);
    await shot(page, `keypanels-${name}-${view}`, { fullPage: false });
  }
  await page.setViewportSize(views.phone.viewport);
}

/** All that stands on the display. */
const said = (display) =>
  [display.notice, display.prompt, display.mark, display.stored, display.entered].filter(Boolean).join(" ");

for (const name of ["Pigeonhole", "Branch"])
  test(`${name}: a zone is keyed, read back, and read out`, async (t) => {
    const server = await serve(t);
    const { page, job } = await openJob(t, server, "key");
    await hang(page, server, job, name);
    await page.goto(`${server.url}/job/${job}/key/zone/09/1`);
    await page.getByText("Answer 1 of", { exact: false }).waitFor();
    await keptOffline(page);
    const panel = await panelBeside(page, job);
    page.networkMayFail = true;
    await page.context().setOffline(true);

    let display = await panel.wait(0);
    for (let n = 0; !(await read(page)).path.includes("/zone/10/"); n++) {
      assert.ok(n < 80, "the cards have an end");
      const card = await read(page);
      assert.equal(display.prompt, card.shows, card.path);
      if (card.sees) assert.ok(said(display).includes(card.sees), `${card.path}: ${said(display)}, want ${card.sees}`);
      if (n === 4) await look(page, `${name.toLowerCase()}-card`);
      display = await press(panel, card, display);
      await main(page).click();
      await page.waitForFunction((path) => location.pathname !== path, card.path);
      await page.locator(".actions .main:enabled").waitFor();
    }

    await page.getByRole("link", { name: "All zones" }).click();
    await page.getByText("Rehearse, read out, print, teach").click();
    await page.getByRole("link", { name: "As found: read the panel out" }).click();
    await page.getByText("One zone is known").click();
    await page.getByRole("link", { name: /^09 / }).click();
    for (let n = 1; !(await page.getByText("Read: as planned.").isVisible()); n++) {
      assert.ok(n < 80, "the zone has an end");
      await page.getByText(new RegExp(`^Card ${n}\\b`)).waitFor();
      const card = await read(page);
      display = await press(panel, card, display);
      const plan = page.locator(".plan .panel");
      if (await plan.isVisible()) {
        const text = await plan.textContent();
        assert.ok(said(display).includes(text), `card ${n}: ${said(display)}, want ${text}`);
        if (n === 3) await look(page, `${name.toLowerCase()}-read`);
      }
      await main(page).click();
      await page.getByText(new RegExp(`^Card ${n}\\b`)).waitFor({ state: "detached" });
    }
    const { zones } = await panel.end();
    assert.deepEqual(
      zones.map(({ zone, state }) => [zone, state]),
      [["09", "right"]],
    );

    await page.context().setOffline(false);
    const told = (await listed(page, server, job, ({ kind }) => kind === "readout"))
      .filter(({ kind }) => kind !== "edit")
      .map(({ body }) => body);
    assert.deepEqual(
      told.map(({ act, via }) => act ?? via),
      ["begun", "kept", "checked", "read"],
    );
    assert.equal(told[2].good, true);
    assert.deepEqual(told[3].zones, { "09": told[1].slots });
  });
