// The proving run on a phone: every device of Larkwater Mill is tripped through the simulated panel, its real frames fill
// the strips, and only the station's read-back fills their last stop.
import assert from "node:assert/strict";
import test, { describe } from "node:test";
import { assertAccessible, assertFits, keptOffline, open, serve, shot, views } from "./harness.js";

const main = (page) => page.locator(".actions .main");
const stepStrip = (page) => page.getByRole("article").getByRole("img");

/** Opens the proving of the corrected job, with its technician at work. */
async function begin(t, { server, ...look } = {}) {
  const site = server ?? (await serve(t, { args: ["--demo", "--speed", "60"] }));
  const { jobs } = await (await fetch(`${site.url}/api/jobs`)).json();
  const { job } = jobs.find(({ name }) => name === "Larkwater Mill");
  const page = await open(t, site.url, look);
  await page.evaluate((id) => localStorage.setItem(`proofbell.at-work.${id}`, "okoro-lind"), job);
  await page.goto(`${site.url}/job/${job}/prove`);
  await page.getByRole("heading", { level: 1 }).waitFor();
  return { page, server: site, job };
}

/** Does something in the simulated building, past the page. */
async function simulate(server, command) {
  const answer = await fetch(`${server.url}/api/demo/panel`, { method: "POST", body: JSON.stringify(command) });
  assert.equal(answer.status, 200, await answer.text());
}

/** The zones of the job as the demo was loaded. */
async function zonesOf(server, job) {
  const { entries } = await (await fetch(`${server.url}/api/jobs/${job}/entries?after=0&limit=1`)).json();
  const { body } = entries[0];
  return (body.patch ?? body.site ?? body).zones;
}

async function openRun(page) {
  await page.getByRole("button", { name: "Open the run" }).click();
  await page.getByRole("heading", { name: "Put on test" }).waitFor();
}

/** The whole call, as the person at the telephone goes through it. `look` is called at each of its pages. */
async function goOnTest(page, { look = async () => {} } = {}) {
  await look("call");
  await main(page).click();
  await page.getByLabel("Account, as the operator reads it back").fill("4816");
  await page.getByLabel("The operator read the address back").check();
  await look("account");
  await main(page).click();
  await page.getByLabel("Operator's name").fill("Bao Ferrant");
  await page.getByLabel("Station's reference").fill("CR-4101");
  await look("confirm");
  await main(page).click();
  await page.getByRole("button", { name: /I send it now/ }).click();
  await page.getByText("It came here. Does the operator see it?").waitFor();
  await look("first");
  await main(page).click();
  await page.getByRole("heading", { name: / proved$/ }).waitFor();
}

/** Presses what the page offers until the step at hand waits for the station or is proved. */
async function workStep(page, { upTo = /^(Next:|All tripped|Close)/ } = {}) {
  const hands = page.getByRole("region", { name: "Simulated building" });
  for (let n = 0; n < 12; n++) {
    const say = (await main(page).textContent()).trim();
    if (upTo.test(say)) return say;
    if (/^I trip it/.test(say)) {
      const arm = hands.getByRole("button", { name: /^Arm area/ });
      if (await arm.count()) {
        await arm.click();
        await hands.getByRole("button", { name: /^Disarm area/ }).waitFor();
      }
      await main(page).click();
      await main(page).filter({ hasNotText: "I trip it" }).waitFor();
      const trip = hands.getByRole("button", {
        name: /^(Trip|Press|Turn the key|Send a test|Mains off|Battery off|Block)/,
      });
      for (let i = 0; i < (await trip.count()); i++) await trip.nth(i).click();
    } else if (say === "It sounds") {
      await main(page).click();
    } else if (/^(Restored|Released)/.test(say)) {
      const clear = hands.getByRole("button", { name: /^(Clear|Release|Mains on|Battery on|Free)/ });
      if ((await clear.count()) && (await clear.isEnabled())) await clear.click();
      await main(page).click();
    }
    // A countdown in the button's words is no change.
    await page.waitForFunction(
      (was) => document.querySelector(".actions .main")?.textContent.trim().split(",")[0] !== was,
      say.split(",")[0],
      { timeout: 20_000 },
    );
  }
  throw new Error(`the step does not end: ${await main(page).textContent()}`);
}

/** The spoken names of all strips of the run. */
async function strips(page, server, job) {
  await page.goto(`${server.url}/job/${job}/prove`);
  await page.getByRole("heading", { name: / proved$/ }).waitFor();
  await page.evaluate(() => {
    for (const folded of document.querySelectorAll("main details")) folded.open = true;
  });
  return page
    .getByRole("main")
    .getByRole("img")
    .evaluateAll((all) => all.map((one) => one.getAttribute("aria-label")).filter((label) => /station/.test(label)));
}

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
      }).observe(document.body, { subtree: true, childList: true, attributes: true, attributeFilter: ["aria-label"] });
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
    for (const [step, at] of Object.entries(filled)) {
      const frame = Math.max(...came.filter((time) => time <= at));
      assert.ok(at - frame < 1000, `${step}: ${at - frame} ms after its frame`);
    }
    assert.equal(await page.getByText("Possibly real").count(), 0, "nothing was taken for real");
    await shot(page, "prove-tripped");

    await main(page).click();
    const unread = page.getByRole("button", { name: /tap: seen$/ });
    await unread.first().waitFor();
    const before = await strips(page, server, job);
    const filledBefore = before.filter((label) => /station proved/.test(label));
    assert.deepEqual(
      filledBefore.map((label) => label.split(".")[0]),
      ["Harmless first signal"],
      "our receiver alone never fills the station",
    );
    await page.goto(`${server.url}/job/${job}/prove/readback`);
    await unread.first().waitFor();
    for (let left = await unread.count(); left > 0; left--) {
      await unread.first().click();
      await page.waitForFunction(
        (n) => document.querySelectorAll("main li:not(.seen):not(.not-seen)").length < n,
        left,
      );
    }
    await shot(page, "prove-read");
    await main(page).click();
    await page.getByRole("heading", { name: "Off test" }).waitFor();
    await main(page).click();
    await page.getByText("Is anything still on test or bypassed", { exact: false }).first().waitFor();
    assert.ok(
      await page.getByRole("alert").filter({ hasText: "still on test or bypassed" }).count(),
      "the guard says what is missing",
    );
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

test("with the receiver gone the strips stay empty, and no tick is lost or doubled", async (t) => {
  const { page, server, job } = await begin(t);
  await openRun(page);
  await goOnTest(page);
  await keptOffline(page);
  await server.stop();
  page.networkMayFail = true;
  await page.getByText("signals can not arrive here now").waitFor();
  await main(page).click();
  await main(page)
    .filter({ hasText: /^Waiting for the signal/ })
    .waitFor();
  const name = await page.getByRole("article").getByRole("heading").textContent();
  for (const stop of ["panel", "line", "station"])
    assert.doesNotMatch(await stepStrip(page).getAttribute("aria-label"), new RegExp(`${stop} (proved|sounder)`));

  await page.reload();
  await page.getByRole("article").getByRole("heading", { name }).waitFor();
  assert.match(await main(page).textContent(), /Waiting for the signal/, "the tick outlived the page");
  await page
    .getByRole("article")
    .getByRole("button", { name: /^Undo: Tripped/ })
    .waitFor();

  await server.restart();
  await page.waitForFunction(
    async (url) => {
      const { entries } = await (await fetch(url)).json();
      return entries.filter(
        ({ kind, body }) => kind === "tick" && body.what === "tripped" && body.step !== "panel.test",
      ).length;
    },
    `${server.url}/api/jobs/${job}/entries?after=0&limit=2000`,
    { timeout: 30_000, polling: 500 },
  );
  const { entries } = await (await fetch(`${server.url}/api/jobs/${job}/entries?after=0&limit=2000`)).json();
  const trips = entries.filter(({ kind, body }) => kind === "tick" && body.what === "tripped");
  assert.equal(trips.length, 2, "the harmless first signal and this one, each once");
});

test("every page of a run fits, is accessible, and takes back a slip", async (t) => {
  const { page, server, job } = await begin(t);
  const look = async (name) => {
    for (const [view, { viewport }] of Object.entries(views)) {
      await page.setViewportSize(viewport);
      for (const colorScheme of ["light", "dark"]) {
        await page.emulateMedia({ colorScheme });
        await assertFits(page, { target: view === "phone" ? 56 : 44 });
        if (view === "phone") await assertAccessible(page);
        await shot(page, `prove-${name}-${view}-${colorScheme}`);
      }
    }
    await page.setViewportSize(views.phone.viewport);
    await page.emulateMedia({ colorScheme: "light" });
  };
  const visit = async (path, waitFor) => {
    await page.goto(`${server.url}/job/${job}/prove/${path}`);
    await page.getByRole("heading", { name: waitFor, level: 1 }).waitFor();
  };
  await look("new");
  await openRun(page);
  await goOnTest(page, { look });
  await look("step");
  await workStep(page);
  await main(page).click();
  await main(page).filter({ hasText: "I trip it now" }).waitFor();
  await main(page).click();
  await main(page)
    .filter({ hasText: /^Waiting/ })
    .waitFor();
  await page.getByRole("button", { name: /^Undo: Tripped/ }).click();
  await main(page).filter({ hasText: "I trip it now" }).waitFor();
  await page.getByRole("button", { name: "Say more" }).click();
  await page.getByRole("button", { name: "Can not be tested" }).click();
  await look("reason");
  await page.getByRole("button", { name: "No access" }).click();
  await page.getByRole("article").getByText("Not testable: No access").first().waitFor();

  await visit("readback", "Read-back");
  const line = page.getByRole("listitem").filter({ hasText: "Wheel room water" }).first().getByRole("button").first();
  await line.click();
  await page
    .getByRole("listitem")
    .filter({ hasText: "Wheel room water" })
    .first()
    .getByText("seen", { exact: true })
    .waitFor();
  await line.click();
  await page.getByText("not there", { exact: true }).waitFor();
  await look("readback");
  await line.click();
  await page.getByText("not there", { exact: true }).waitFor({ state: "detached" });
  await visit("watch", "Watch");
  await look("watch");
  await visit("panel", "Simulated panel");
  await look("panel");
  await visit("close", "Close the run");
  await look("close");
});
