import "./app.css";
import { mount } from "svelte";
import App from "./App.svelte";
import { keepOffline } from "./offline";
import { startSending } from "./sync/outbox";

const target = document.getElementById("app");
if (!target) throw new Error("index.html has no element #app");
mount(App, { target });
startSending();
keepOffline();
