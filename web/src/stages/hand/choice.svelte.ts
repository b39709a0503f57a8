// How documents are wanted on this device: size of the sheets and units. Kept with the device.

export type SheetSize = "A4" | "Letter";
export type Units = "" | "metric" | "imperial";

const slot = "proofbell.papers";

function kept(): { sheet: SheetSize; units: Units } {
  try {
    const { sheet, units } = JSON.parse(localStorage.getItem(slot) ?? "{}") as { sheet?: string; units?: string };
    return {
      sheet: sheet === "Letter" ? "Letter" : "A4",
      units: units === "metric" || units === "imperial" ? units : "",
    };
  } catch {
    return { sheet: "A4", units: "" };
  }
}

export const choice = $state(kept());

export function choose(next: Partial<{ sheet: SheetSize; units: Units }>): void {
  Object.assign(choice, next);
  localStorage.setItem(slot, JSON.stringify(choice));
}
