import "./app.css";
import { mount } from "svelte";
import App from "./App.svelte";
import { keepOffline } from "./offline.svelte";
import { startSending } from "./sync/outbox";
import { lookForLoss } from "./sync/store";
import { begun } from "./words/words.svelte";

const target = document.getElementById("app");
if (!target) throw new Error("index.html has no element #app");
// A language that can not be fetched must not keep the pages from opening.
await begun.catch((reason) => console.warn("language:", reason));
mount(App, { target });
startSending();
keepOffline();
lookForLoss().catch((reason) => console.warn("looking for what was kept:", reason));
