// The shell of the application: whatever the pages show, they open, fit, speak, and open again with no server.
import assert from "node:assert/strict";
import test from "node:test";
import { askEngine, assertAccessible, assertFits, inBoth, keptOffline, open, serve, shot, views } from "./harness.js";

const drawn = (page) => page.locator("#app h1").first().waitFor();

for (const [name, view] of Object.entries(views)) {
  test(`the first page fits and is accessible, light and dark: ${name}`, async (t) => {
    const server = await serve(t);
    const page = await open(t, server.url, { view });
    await drawn(page);
    await inBoth(page, async (scheme) => {
      await assertAccessible(page);
      await assertFits(page, { target: name === "phone" ? 56 : 44 });
      await shot(page, `first-${name}-${scheme}`);
    });
  });
}

test("the first page is light on the wire, the engine apart", async (t) => {
  const server = await serve(t);
  const page = await open(t, server.url, { serviceWorkers: "block" });
  await drawn(page);
  const sizes = await page.evaluate(() =>
    performance
      .getEntries()
      .filter((entry) => ["navigation", "resource"].includes(entry.entryType) && !/\.wasm$/.test(entry.name))
      .map((entry) => [entry.name, entry.encodedBodySize]),
  );
  const total = sizes.reduce((sum, [, size]) => sum + size, 0);
  assert.ok(total > 10_000 && total < 250_000, `${total} bytes:\n${sizes.map((one) => one.join(" ")).join("\n")}`);
});

test("the application opens with no server, engine included", async (t) => {
  const server = await serve(t);
  const page = await open(t, server.url);
  await drawn(page);
  await keptOffline(page);
  await server.stop();
  page.networkMayFail = true;
  await page.reload();
  await drawn(page);
  const answer = await askEngine(page, "no.such.method", {});
  assert.ok(answer.problem?.say, `the engine says what is wrong with a call: ${JSON.stringify(answer)}`);
});

test("what is served may run no foreign script and can not be framed", async (t) => {
  const server = await serve(t);
  const policy = (await fetch(server.url)).headers.get("content-security-policy") ?? "";
  for (const rule of [
    "default-src 'self'",
    "script-src 'self' 'wasm-unsafe-eval'",
    "object-src 'none'",
    "frame-ancestors 'none'",
  ]) {
    assert.ok(policy.includes(rule), `${rule} is missing from: ${policy}`);
  }
});
