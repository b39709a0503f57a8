import type { RadioRow } from "../../../types";

/** "14 Heat detector" */
export const named = (row: RadioRow): string => [row.zones?.join(", "), row.name].filter(Boolean).join(" ");
