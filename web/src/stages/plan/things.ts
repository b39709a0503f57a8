// What stands on the plan and what can be put up, in words.
import type { Survey } from "../../types";
import { t } from "../../words/words.svelte";
import type { Held } from "./hit";
import type { Hung } from "./tools.svelte";

/** What is in hand. */
export function titleOf(held: Held, survey: Survey): string {
  const { what, id } = held;
  switch (what) {
    case "room":
      return survey.site?.rooms?.[id]?.name ?? id;
    case "opening": {
      const opening = survey.site?.openings?.[id];
      const kind = survey.words?.["opening-kind"]?.find((one) => one.value === opening?.kind)?.say ?? "";
      const rooms = (opening?.rooms ?? []).map((room) => survey.site?.rooms?.[room]?.name ?? room).join(" - ");
      return opening?.name ?? [kind, rooms].filter(Boolean).join(", ");
    }
    case "wall": {
      const material = survey.site?.walls?.[id]?.material;
      return [t("Wall"), material && survey.site?.materials?.[material]?.name].filter(Boolean).join(", ");
    }
    case "head":
      return t("Alarm {id}", { id });
    default: {
      const row = survey.devices?.find((device) => device.id === id);
      return [row?.zones?.join(", "), row?.name ?? id].filter(Boolean).join(" ");
    }
  }
}

/** What hangs from the finger. */
export function hungSay(hung: Hung, survey: Survey): string {
  if ("id" in hung) return titleOf(hung, survey);
  if (hung.what === "device") {
    const known = survey.site?.models?.[hung.model]?.name;
    const cls = survey.words?.["device-class"]?.find((one) => one.value === hung.model)?.say;
    return known ?? cls ?? hung.model;
  }
  const kind = survey.words?.["head-kind"]?.find((one) => one.value === hung.kind)?.say ?? hung.kind;
  return t("Alarm: {kind}", { kind });
}
