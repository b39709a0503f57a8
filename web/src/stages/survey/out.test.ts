import { expect, test } from "vitest";
import type { Site } from "../../types";
import { circuitsOf, outOf } from "./out";

const site = {
  circuits: {
    sounders: {
      name: "Sounders",
      parts: { bell: { device: "bell-box", current: "0.4 A" }, hall: { device: "hall-sounder" } },
    },
    bus: { parts: { pad: { device: "keypad" } } },
  },
} as unknown as Site;

test("a device leaves a joint in the cable, and nothing else is touched", () => {
  const joint = { device: null, current: null, power: null, least: null };
  expect(outOf(site, "bell-box")).toEqual({
    devices: { "bell-box": null },
    circuits: { sounders: { parts: { bell: joint } } },
  });
  expect(circuitsOf(site, "bell-box")).toEqual(["Sounders"]);
  expect(circuitsOf(site, "keypad")).toEqual(["bus"]);
});

test("a device of no circuit just goes", () => {
  expect(outOf(site, "hall-smoke")).toEqual({ devices: { "hall-smoke": null } });
  expect(outOf(undefined, "hall-smoke")).toEqual({ devices: { "hall-smoke": null } });
});
