// Where a place that the engine names is edited.
import { address, go, route } from "../router.svelte";
import type { Place } from "../types";

const sheets: Record<string, string> = { device: "device", head: "head", room: "room", question: "question" };
const lid = ["panel", "premises", "station", "path", "account", "power"];

/** The address of the sheet of a place; undefined where there is none. */
export function sheetOf(place: Place | undefined): string | undefined {
  if (!place) return undefined;
  if (place.kind === "zone") return address(route.job, "schedule", "zone", place.id);
  const sheet = sheets[place.kind];
  if (sheet) return address(route.job, "survey", sheet, place.id);
  if (place.kind === "circuit") return address(route.job, "survey", "circuit", place.id);
  return lid.includes(place.kind) ? address(route.job, "survey", "panel") : undefined;
}

/** Opens the sheet of a place. */
export function show(place: Place | undefined): void {
  const to = sheetOf(place);
  if (to) go(to);
}
