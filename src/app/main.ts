import { loadConfig } from "../smart/config.ts";
import { openSession } from "../smart/session.ts";
import { readingOf } from "./reading.ts";
import { sitePolicyOf } from "./site-policy-file.ts";

// Outside React, and before React is there: the address bar is cleaned, the code exchanged and the chart asked for once.
const config = loadConfig();
const opening = openSession(config);
const reading = opening.then((answer) => (answer.ok ? readingOf(answer.session) : undefined));
const policy = config.then(sitePolicyOf);

// Until then the page's own shell stands, which says that the chart is being opened.
Promise.all([import("./app.tsx"), opening, reading]).then(
  ([{ draw }, answer, chart]) => draw(document.getElementById("root")!, { answer, reading: chart, policy }),
  () => {
    const status = document.querySelector("#main [role=status]");
    if (status) status.textContent = "A part of Fingerpost could not be loaded. Reload this page.";
  },
);
