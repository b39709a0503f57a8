import type { Cap } from "../types";

/** The keys of a card as they are drawn: where the engine says nothing of it, every group is a key of its own. */
export const capsOf = ({ caps, press }: { caps?: Cap[] | null; press?: string[] | null }): Cap[] =>
  caps ?? (press ?? []).map((key) => ({ key, times: 1, wait: false, until: "" }));
