import { StrictMode } from "react";
import { createRoot } from "react-dom/client";
import { loadConfig } from "../smart/config.ts";
import { openSession } from "../smart/session.ts";
import { App } from "./app.tsx";
import { readingOf } from "./reading.ts";

// Outside React: the address bar is cleaned, the code exchanged and the chart asked for once, whatever is drawn how often.
const opening = openSession(loadConfig());
const reading = opening.then((answer) => (answer.ok ? readingOf(answer.session) : undefined));

createRoot(document.getElementById("root")!).render(
  <StrictMode>
    <App opening={opening} reading={reading} />
  </StrictMode>,
);
