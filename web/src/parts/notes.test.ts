import { expect, it } from "vitest";

const files = import.meta.glob<string>("../**/*.svelte", { query: "?raw", import: "default", eager: true });

it("asks for no remark in the clear without saying that it stays in the record", () => {
  expect(files["./Notes.svelte"]).toContain("Stays in the record: nothing about persons");
  // The notes of the premises (premises?.notes) are sealed.
  const bare = Object.entries(files).filter(([, text]) => /<TextLine[^\n]*\w\.notes\}/.test(text));
  expect(bare.map(([name]) => name)).toEqual([]);
  const asking = Object.entries(files).filter(([, text]) => text.includes("<Notes "));
  expect(asking.map(([name]) => name.replace(/.*\//, "")).sort()).toEqual([
    "DeviceSheet.svelte",
    "HeadSheet.svelte",
    "RoomSheet.svelte",
    "ZoneSheet.svelte",
  ]);
});
