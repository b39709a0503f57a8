import { expect, test } from "vitest";
import { newID } from "./id";

test("the key of a new thing is one that the site file takes: 1 to 32 letters, digits and dashes", () => {
  expect(newID("Gästezimmer Ost", {})).toBe("ga-stezimmer-ost");
  expect(newID("Hall", { hall: 1, "hall-2": 1 })).toBe("hall-3");
  expect(newID("???", undefined)).toBe("new");
  const name = "The second guest room behind the wheel room";
  const first = newID(name, {});
  expect(first).toBe("the-second-guest-room-behind-the");
  expect(newID(name, { [first]: 1 })).toBe("the-second-guest-room-behind-t-2");
  const taken: Record<string, unknown> = {};
  for (let i = 0; i < 120; i++) {
    const id = newID(name, taken);
    expect(id).toMatch(/^[a-z0-9][a-z0-9-]{0,31}$/);
    taken[id] = 1;
  }
});
