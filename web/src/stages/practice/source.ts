// The practice building: sound, so that whatever is wrong in a practice made from it was planted. Kept with the application.
export const file = "larkwater.yaml";
/** The day on which it is sound. */
export const day = "2026-09-15";

export const text = async (): Promise<string> => (await import("../../../../demo/larkwater.yaml?raw")).default;
