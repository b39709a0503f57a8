import { t } from "../../words/words.svelte";

/** Layers of the drawing that can be left out. */
export interface Shown {
  picture: boolean;
  below: boolean;
  squares: boolean;
  names: boolean;
  devices: boolean;
  alarms: boolean;
  distances: boolean;
  /** Which estimate is drawn under the walls; empty: none. */
  field: "" | "sound" | "radio";
}

export const estimates = (): { value: Exclude<Shown["field"], "">; say: string }[] => [
  { value: "sound", say: t("Sound") },
];
