// Opens the drawing of a storey of 60 rooms and 300 devices in Chromium, moves the sheet and drags a device, and prints the
// frames a second of both: as it is (laptop), and with the processor throttled to a quarter on a phone's screen.
import { open, serve, views } from "../web/tests/harness.js";

const ends = [];
const t = { after: (end) => ends.push(end) };

/** A storey of 6 by 10 rooms with a door each, 5 devices in each room. */
function storey() {
  const site = { name: "Sixty rooms", storeys: { ground: { name: "Ground floor", level: 0, ceiling: "2.6 m", order: 1 } } };
  Object.assign(site, { rooms: {}, walls: {}, openings: {}, devices: {}, models: { smoke: { name: "Smoke detector with sounder", class: "smoke" } } });
  for (let x = 0; x < 10; x++) {
    for (let y = 0; y < 6; y++) {
      const room = `r${x}-${y}`;
      const [l, b, r, u] = [x * 5, y * 4, x * 5 + 5, y * 4 + 4];
      const wall = (from, to) => ({ storey: "ground", from, to, thickness: "0.1 m" });
      site.rooms[room] = { name: `Room ${x * 6 + y + 1}`, storey: "ground", order: x * 6 + y + 1, outline: [[l, b], [r, b], [r, u], [l, u]] };
      site.walls[`${room}-south`] = wall([l, b], [r, b]);
      site.walls[`${room}-west`] = wall([l, b], [l, u]);
      if (y === 5) site.walls[`${room}-north`] = wall([l, u], [r, u]);
      if (x === 9) site.walls[`${room}-east`] = wall([r, b], [r, u]);
      site.openings[`${room}-door`] = { kind: "door", storey: "ground", at: [l + 2.5, b], width: "0.9 m", rooms: [room], hinge: "start", swing: room };
      for (let n = 0; n < 5; n++) site.devices[`${room}-${n}`] = { model: "smoke", room, at: [l + 0.8 + n * 0.8, b + 2 + (n % 2), 2.6] };
    }
  }
  return site;
}

/** Moves the mouse along a way, one step a frame, and gives the time of each frame. */
async function dragged(page, from, to, steps) {
  await page.evaluate(() => {
    globalThis.frames = [];
    globalThis.counting = true;
    const count = (at) => {
      globalThis.frames.push(at);
      if (globalThis.counting) requestAnimationFrame(count);
    };
    requestAnimationFrame(count);
  });
  await page.mouse.move(...from);
  await page.mouse.down();
  for (let n = 1; n <= steps; n++) {
    const part = 1 - Math.abs(1 - (2 * n) / steps); // there and back
    await page.mouse.move(from[0] + (to[0] - from[0]) * part, from[1] + (to[1] - from[1]) * part);
  }
  await page.mouse.up();
  const times = await page.evaluate(() => {
    globalThis.counting = false;
    return globalThis.frames;
  });
  return ((times.length - 1) * 1000) / (times.at(-1) - times[0]);
}

const out = {};
try {
  const server = await serve(t, { args: [] });
  const made = await fetch(`${server.url}/api/jobs`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(storey()) });
  const { job } = await made.json();
  for (const [name, view, throttle] of [["laptop", views.desk, 1], ["phone", views.phone, 4]]) {
    const page = await open(t, `${server.url}/job/${job}/survey/plan/ground`, { view });
    await page.locator(".board .mark").nth(299).waitFor({ state: "attached", timeout: 60_000 });
    await page.waitForTimeout(3000); // the engine has other views to answer at first
    const client = await page.context().newCDPSession(page);
    await client.send("Emulation.setCPUThrottlingRate", { rate: throttle });
    const box = await page.getByRole("application").boundingBox();
    const middle = [box.x + box.width / 2, box.y + box.height / 2];
    out[`${name} sheet`] = await dragged(page, [middle[0] + 3, middle[1] + 40], [middle[0] + 120, middle[1] - 60], 120);
    // A device in hand, then dragged: the one nearest to the middle.
    const places = await page.locator(".board [data-layer=devices] > g").evaluateAll((all) =>
      all.map((el) => {
        const box = el.getBoundingClientRect();
        return [box.x + box.width / 2, box.y + box.height / 2];
      }),
    );
    const far = (place) => Math.hypot(place[0] - middle[0], place[1] - middle[1]);
    const at = places.sort((a, b) => far(a) - far(b))[0];
    await page.mouse.click(...at);
    await page.locator(".board .held").waitFor();
    out[`${name} device`] = await dragged(page, at, [at[0] + 60, at[1] + 40], 120);
  }
} finally {
  for (const end of ends.reverse()) await end();
}
process.stdout.write(`${JSON.stringify(out)}\n`);
process.exit(0);
