// Beginning a job on this device: its id, its key and its first entry are made here; the server takes them over later.
import { call } from "../engine";
import { random } from "../random";
import { Refused } from "../sync/api";
import { sendSoon } from "../sync/outbox";
import { store } from "../sync/store";
import { stamp } from "../time";
import type { Begun } from "../types";
import { device } from "../who.svelte";
import { language, t } from "../words/words.svelte";

/** From a name alone or from a site file. Returns the job's id. Rejects with a Problem; of a file with faults, Refused. */
export async function beginHere(from: { name: string } | { file: string; text: string }): Promise<string> {
  const { job, key, name, content, faults } = await call<Begun>("job.begin", {
    ...from,
    at: stamp(),
    by: device(),
    from: device(),
    random: random(96),
    lang: language(),
  });
  if (!content) {
    throw new Refused(
      {
        code: "bad-request",
        say: t("The site file has faults."),
        try: t("Mend them and open it again; nothing was opened."),
      },
      faults ?? [],
    );
  }
  await store.keepJob({ job, key, name, fresh: true });
  await store.put({ job, id: content.id, content, state: "waiting" });
  sendSoon();
  return job;
}
