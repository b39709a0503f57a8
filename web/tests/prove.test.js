// The proving run on a phone: every device of Larkwater Mill is tripped through the simulated panel, its real frames fill
// the strips, and only the station's read-back fills their last stop.
import assert from "node:assert/strict";
import test, { describe } from "node:test";
import { shot } from "./harness.js";
import { begin, goOnTest, main, openRun, simulate, stepStrip, strips, workStep, zonesOf } from "./proving.js";

// The delayed signal needs its own minute of real time, so the two long walks go side by side.
describe("a run", { concurrency: 2 }, () => {
  test("on test, every device tripped, to the line at once and to the station by read-back, closed", async (t) => {
    const { page, server, job } = await begin(t);
    await openRun(page);
    await goOnTest(page);

    // When each strip was first seen filled to the line, by the clock of the page.
    await page.evaluate(() => {
      globalThis.filled = {};
      new MutationObserver(() => {
        const image = document.querySelector("article.step [role=img]");
        const label = image?.getAttribute("aria-label") ?? "";
        const step = location.pathname.split("/")[5];
        if (step && /line proved/.test(label)) globalThis.filled[decodeURIComponent(step)] ??= Date.now();
      }).observe(document.body, {
        subtree: true,
        childList: true,
        attributes: true,
        attributeFilter: ["aria-label"],
      });
    });

    let done = 0;
    for (let say = await workStep(page); say.startsWith("Next:"); say = await workStep(page)) {
      await main(page).click();
      await main(page)
        .filter({ hasText: /^I trip it/ })
        .waitFor();
      done += 1;
    }
    const filled = await page.evaluate(() => globalThis.filled);
    const { entries } = await (await fetch(`${server.url}/api/jobs/${job}/entries?after=0&limit=2000`)).json();
    const came = entries.filter(({ kind }) => kind === "signal").map(({ body }) => Date.parse(body.received));
    assert.ok(done >= 45, `${done} steps`);
    assert.ok(Object.keys(filled).length >= 40, `${Object.keys(filled).length} strips filled to the line`);
    const devices = Object.entries(filled).filter(([step]) => /\.(alarm|press)$/.test(step));
    const took = devices.map(([step, at]) => [at - Math.max(...came.filter((time) => time <= at)), step]);
    took.sort(([a], [b]) => a - b);
    t.diagnostic(`from frame to strip: median ${took[took.length >> 1][0]} ms, longest ${took.at(-1).join(" ms, ")}`);
    // Within 1 s; a machine that runs other work besides may be late now and then, never by much.
    assert.ok(took.filter(([ms]) => ms < 1000).length >= 0.95 * took.length, String(took));
    assert.ok(took.at(-1)[0] < 3000, String(took));
    assert.equal(await page.getByText("Possibly real").count(), 0, "nothing was taken for real");
    await shot(page, "prove-tripped");

    await main(page).click();
    const unread = page.getByRole("button", { name: /tap: seen$/ });
    await unread.first().waitFor();
    const before = await strips(page, server, job);
    const filledBefore = before.filter((label) => /station proved/.test(label));
    assert.equal(
      filledBefore.length,
      1,
      "our receiver alone fills no station: only the first signal was read back so far",
    );
    await page.goto(`${server.url}/job/${job}/prove/readback`);
    await unread.first().waitFor();
    const expected = Number((await main(page).textContent()).match(/\d+/)[0]);
    let taps = 0;
    for (let left = await unread.count(); left > 0; left--) {
      const line = page.getByRole("listitem").filter({ has: unread.first() }).first();
      const words = await line.textContent();
      await unread.first().click();
      taps += 1;
      await page
        .waitForFunction((n) => document.querySelectorAll("main li:not(.seen):not(.not-seen)").length < n, left)
        .catch((cause) => Promise.reject(new Error(`the line stays unread: ${words}`, { cause })));
    }
    assert.ok(taps < 0.75 * expected, `${taps} taps for ${expected} lines`);
    await shot(page, "prove-read");
    await main(page).click();
    await page.getByRole("heading", { name: "Off test" }).waitFor();
    await main(page).click();
    // The guard says what is missing, where the act was tried.
    await page.getByRole("alert").filter({ hasText: "still on test or bypassed" }).waitFor();
    await page.getByLabel("nothing is still on test or bypassed").check();
    await main(page).click();
    await page.getByRole("heading", { name: "Live again" }).waitFor();

    const after = await strips(page, server, job);
    assert.ok(after.length >= 45, `${after.length} strips`);
    for (const label of after) {
      assert.match(label, /detector (proved|sounder and link proved)/, label);
      if (!/Not followed to the station|It sounds/.test(label)) assert.match(label, /station proved/, label);
    }
    await page.goto(`${server.url}/job/${job}/prove/close`);
    await page.getByText("nothing stands against it").waitFor();
    await main(page).click();
    await page.getByText("This run is closed.").waitFor();
    await shot(page, "prove-closed");
  });

  test("provoked faults are named rightly", async (t) => {
    const { page, server, job } = await begin(t);
    await page.clock.install();
    await page.reload();
    await openRun(page);
    await goOnTest(page);
    const zones = await zonesOf(server, job);
    const faults = {
      11: { kind: "delay", seconds: 72 },
      12: { kind: "lose-alarm" },
      13: { kind: "lose-restore" },
      14: { kind: "wrong-code" },
      15: { kind: "swap-zone", zone: "31" },
    };
    const said = async (zone, words) => {
      await page.goto(`${server.url}/job/${job}/prove/step/${zone}.alarm`);
      await page.getByRole("article").getByText(words).first().waitFor({ timeout: 100_000 });
      return stepStrip(page).getAttribute("aria-label");
    };
    for (const [zone, fault] of Object.entries(faults)) {
      const { device, terminal } = zones[zone];
      await simulate(server, { do: "fault", fault: { ...fault, device } });
      await said(zone, "Not tripped yet.");
      await main(page).click();
      await main(page).filter({ hasNotText: "I trip it" }).waitFor();
      await simulate(server, { do: "trip", device, terminal });
    }

    assert.match(await said("14", /Came as 150 .* instead of 114/), /panel failed/);
    assert.match(await said("15", /Came as zone 31 .* instead of zone 15/), /panel failed/);
    assert.ok(
      await page.getByRole("heading", { name: /Possibly real/ }).count(),
      "the other zone may be real: it stands first",
    );
    await shot(page, "prove-faults");

    await said("13", /not yet at the station/);
    await simulate(server, { do: "restore", device: zones[13].device, terminal: zones[13].terminal });
    await page.getByRole("button", { name: "Say more" }).click();
    await page.getByRole("button", { name: "It is restored" }).click();
    assert.match(await said("11", /Late: received after 7\d s \(allowed 70 s\)/), /line proved/);

    // What never comes is a failure once its time is over.
    await page.clock.fastForward(200_000);
    assert.match(await said("12", /Not received within \d+ s/), /line failed/);
    await page.clock.fastForward(200_000);
    assert.match(await said("13", /Restore missing within \d+ s/), /line failed/);
    assert.doesNotMatch(
      await page.getByRole("heading", { level: 1 }).textContent(),
      /^[2-9]/,
      "only the first signal is proved",
    );
  });
});
