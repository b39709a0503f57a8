import type { SoundRow } from "../../../types";
import { t } from "../../../words/words.svelte";

/** "Alder, bed 1"; a room as a whole by its name. */
export const place = (row: SoundRow): string =>
  row.bed ? t("{room}, bed {bed}", { room: row.name, bed: row.bed }) : row.name;
