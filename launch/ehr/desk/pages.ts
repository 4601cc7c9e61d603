/** The pages of the practice EHR: list of people, one chart, the app in a frame, choice at a standalone launch, faults. No scripts. */
import type { Resource } from "../fhir/exchange.ts";
import { PEOPLE } from "../smart/people.ts";
import type { WebAnswer } from "../web.ts";
import { Html, html } from "./html.ts";
import { inWords, type PatientInWords, shownDate } from "./words.ts";

export interface PageSettings {
  readonly appOrigin: string;
  /** Origins that a form on our pages may end at. */
  readonly formTargets: readonly string[];
}

const BANNER = "Practice only. Every person and place here is invented. Not for patient care.";

/** A whole page with the strict headers that all our pages carry. */
export function page(settings: PageSettings, title: string, body: Html, status = 200, frame = false): WebAnswer {
  const csp = [
    "default-src 'none'",
    "style-src 'self'",
    "img-src 'self'",
    `form-action 'self' ${settings.formTargets.join(" ")}`,
    ...(frame ? [`frame-src ${settings.appOrigin} 'self'`] : []),
    "base-uri 'none'",
    "frame-ancestors 'self'",
    "require-trusted-types-for 'script'",
    "trusted-types 'none'",
  ].join("; ");
  const text = html`<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark"><title>${title} · Practice EHR</title><link rel="stylesheet" href="/desk/style.css"><link rel="icon" href="/desk/icon.svg"></head>
<body class="${frame ? "framing" : ""}"><a class="skip" href="#main">Skip to content</a>
<header class="banner"><strong>Practice EHR.</strong> ${BANNER}</header>
<main id="main">${body}</main></body></html>`.text;
  return {
    status,
    headers: {
      "content-type": "text/html; charset=utf-8",
      "content-security-policy": csp,
      "cache-control": "no-store",
      "referrer-policy": "no-referrer",
      "x-content-type-options": "nosniff",
      "permissions-policy": "camera=(), geolocation=(), microphone=()",
      "cross-origin-opener-policy": "same-origin",
    },
    body: text,
  };
}

export interface PatientRow extends PatientInWords {
  readonly today: string | undefined;
}

export function peoplePage(
  settings: PageSettings,
  patients: readonly PatientRow[],
  more: boolean,
  clinics: { readonly people: readonly PatientInWords[]; readonly total: number },
): WebAnswer {
  return page(
    settings,
    "Patients",
    html`
<h1>Who is here today?</h1>
<p class="lead">Choose a patient, say who you are, and open the app from the chart.</p>
${patients.length === 0 && html`<p>There are no patients on this server.</p>`}
<ul class="cards">${patients.map(
      (patient) => html`
  <li class="card">
    <h2><a href="/desk/patient/${patient.id}">${patient.name}</a>${patient.deceased && html` <span class="tag">deceased</span>`}</h2>
    <p class="facts">${patient.born}, ${patient.sex}${patient.identifiers.length > 0 && html`<br><span class="quiet">No. ${patient.identifiers.join(", ")}</span>`}</p>
    ${patient.today && html`<p>${patient.today}</p>`}
    ${launchForm(patient)}
  </li>`,
    )}</ul>
${more && html`<p class="quiet">More patients are stored than are listed here.</p>`}
${clinicDesk(clinics)}`,
  );
}

/** Clinic staff open the app for all their patients at once; each chart can be looked at all the same. */
function clinicDesk({ people, total }: { readonly people: readonly PatientInWords[]; readonly total: number }): Html {
  return html`<section aria-labelledby="clinics">
  <h2 id="clinics">The clinics and the coders</h2>
  <p>For clinic staff: the app without a patient, with all visits that are to be arranged.</p>
  <form class="launch" method="get" action="/desk/launch" rel="noopener">
    <input type="hidden" name="as" value="clinic">
    <div class="buttons">
      <button class="main" name="view" value="tab" aria-label="Launch for the clinics">Launch</button>
      <button name="view" value="frame" aria-label="Open in a frame for the clinics">Open in a frame</button>
      <button name="view" value="window" formtarget="_blank" aria-label="Open in its own window for the clinics">Open in its own window</button>
    </div>
  </form>
  <p>For coders: the app without a patient, with all signed records.</p>
  <form class="launch" method="get" action="/desk/launch" rel="noopener">
    <input type="hidden" name="as" value="coder">
    <div class="buttons">
      <button class="main" name="view" value="tab" aria-label="Launch for coding">Launch</button>
      <button name="view" value="window" formtarget="_blank" aria-label="Open in its own window for coding">Open in its own window</button>
    </div>
  </form>
  ${
    people.length > 0 &&
    html`<details><summary>${total} patients with a plan</summary><ul class="lines">${people.map(
      ({ id, name, born, deceased }) =>
        html`<li><a href="/desk/patient/${id}">${name}</a>, ${born}${deceased && html` <span class="tag">deceased</span>`}</li>`,
    )}</ul></details>`
  }
</section>`;
}

function launchForm({ id, name }: PatientInWords): Html {
  return html`<form class="launch" method="get" action="/desk/launch" rel="noopener">
    <input type="hidden" name="patient" value="${id}">
    <label for="as-${id}">Signed in as</label>
    <select id="as-${id}" name="as">${PEOPLE.map((person) => html`<option value="${person.id}">${person.role}</option>`)}</select>
    <div class="buttons">
      <button class="main" name="view" value="tab" aria-label="Launch for ${name}">Launch</button>
      <button name="view" value="frame" aria-label="Open in a frame for ${name}">Open in a frame</button>
      <button name="view" value="window" formtarget="_blank" aria-label="Open in its own window for ${name}">Open in its own window</button>
    </div>
  </form>`;
}

export interface ChartSection {
  readonly heading: string;
  readonly type: string;
  readonly resources: readonly Resource[];
  readonly total: number;
  /** Said instead of a list when the server gave none. */
  readonly problem?: string;
}

/** @param since ISO instant of the start of this session: later changes are marked as new */
export function chartPage(
  settings: PageSettings,
  patient: PatientInWords,
  sections: readonly ChartSection[],
  since: string,
): WebAnswer {
  return page(
    settings,
    `Chart of ${patient.id}`,
    html`
<p><a href="/desk">All patients</a></p>
<h1>${patient.name}${patient.deceased && html` <span class="tag">deceased</span>`}</h1>
<p class="facts">${patient.born}, ${patient.sex}${patient.identifiers.length > 0 && html`. No. ${patient.identifiers.join(", ")}`}. <a href="/desk/json/Patient/${patient.id}">Patient as JSON</a></p>
${launchForm(patient)}
${sections.map(
  (section) => html`
<section aria-labelledby="h-${section.type}">
  <h2 id="h-${section.type}">${section.heading} <span class="quiet">(${section.total})</span></h2>
  ${section.problem ? html`<p>${section.problem}</p>` : section.resources.length === 0 && html`<p class="quiet">Nothing stored.</p>`}
  ${section.resources.length > 0 && html`<ul class="entries">${section.resources.map((resource) => entry(resource, since))}</ul>`}
  ${section.total > section.resources.length && html`<p class="quiet">The newest ${section.resources.length} of ${section.total}.</p>`}
</section>`,
)}`,
  );
}

function entry(resource: Resource, since: string): Html {
  const { title, status, when, lines } = inWords(resource);
  const isNew = (resource.meta?.lastUpdated ?? "") > since;
  const said = lines.filter((line) => line.trim() !== "");
  const address = `${resource.resourceType}/${resource.id}`;
  return html`<li data-reference="${address}"><p class="entry"><strong>${title}</strong> ${status && html`<span class="tag">${status}</span>`} ${isNew && html`<span class="tag new">new in this session</span>`}</p>
    ${
      said.length > 6
        ? html`<details><summary>${said.length} lines</summary><ul class="lines">${said.map((line) => html`<li>${line}</li>`)}</ul></details>`
        : said.length > 0 && html`<ul class="lines">${said.map((line) => html`<li>${line}</li>`)}</ul>`
    }
    <p class="quiet">${when && html`${shownDate(when)} · `}version ${resource.meta?.versionId ?? "?"} · <a href="/desk/json/${address}" aria-label="${title} as JSON">JSON</a></p></li>`;
}

export function framePage(settings: PageSettings, about: string, back: string, address: string): WebAnswer {
  return page(
    settings,
    "App in the chart",
    html`
<div class="framehead"><a href="${back}">Back to the record</a> <h1>${about}</h1></div>
<iframe src="${address}" title="App opened from the chart" referrerpolicy="no-referrer"></iframe>`,
    200,
    true,
  );
}

export interface ChoiceView {
  readonly choice: string;
  readonly appName: string;
  readonly scopes: readonly string[];
  readonly patients: readonly PatientInWords[] | undefined;
}
export function choicePage(settings: PageSettings, { choice, appName, scopes, patients }: ChoiceView): WebAnswer {
  return page(
    settings,
    "Sign in",
    html`
<h1>${appName} asks to open a chart</h1>
<form class="choice" method="post" action="/auth/choose">
  <input type="hidden" name="choice" value="${choice}">
  <fieldset><legend>Who is signing in?</legend>${PEOPLE.map((person, i) => html`<label class="option"><input type="radio" name="as" value="${person.id}" ${i === 0 && new Html("checked")}> ${person.role}: ${person.name}</label>`)}</fieldset>
  ${patients && html`<fieldset><legend>Which patient?</legend>${patients.map((patient, i) => html`<label class="option"><input type="radio" name="patient" value="${patient.id}" ${i === 0 && new Html("checked")}> ${patient.name}, ${patient.born}</label>`)}</fieldset>`}
  <details><summary>What the app asks for</summary><ul class="lines">${scopes.map((scope) => html`<li><code>${scope}</code></li>`)}</ul></details>
  <div class="buttons"><button class="main" name="answer" value="allow">Allow</button><button name="answer" value="decline">Decline</button></div>
</form>`,
  );
}

export const faultPage = (settings: PageSettings, message: string, status = 400): WebAnswer =>
  page(
    settings,
    "Cannot go on",
    html`<h1>This cannot go on</h1><p>${message}</p><p><a href="/desk">Back to the patients</a></p>`,
    status,
  );

export const STYLE = `
:root { color-scheme: light dark; --ink: #1d2733; --quiet: #56626f; --paper: #f5f3ee; --card: #ffffff; --line: #cfc9bd; --link: #0b5a74; --main: #0b5a74; --on-main: #ffffff; --note: #fff0c2; --on-note: #463300; --new: #d8efdd; --on-new: #134023; --tag: #e9e5db; }
@media (prefers-color-scheme: dark) { :root { --ink: #e9e6df; --quiet: #aab4bd; --paper: #14181d; --card: #1e242b; --line: #3d4650; --link: #7fc8e0; --main: #7fc8e0; --on-main: #06222c; --note: #4a3a08; --on-note: #ffeeb8; --new: #1d4a2c; --on-new: #d5f3dc; --tag: #333c46; } }
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink); font: 1rem/1.5 system-ui, sans-serif; overflow-wrap: anywhere; }
main { max-width: 76rem; margin: 0 auto; padding: 1rem clamp(0.75rem, 3vw, 2rem) 3rem; }
h1 { font-size: 1.6rem; line-height: 1.25; margin: 0.5rem 0; } h2 { font-size: 1.15rem; margin: 0; }
a { color: var(--link); } a:focus-visible, button:focus-visible, select:focus-visible, input:focus-visible, summary:focus-visible { outline: 3px solid var(--link); outline-offset: 2px; }
.skip { position: absolute; left: -99rem; } .skip:focus { left: 0.5rem; top: 0.5rem; background: var(--card); padding: 0.5rem; }
.banner { margin: 0; padding: 0.6rem clamp(0.75rem, 3vw, 2rem); background: var(--note); color: var(--on-note); border-bottom: 1px solid var(--line); }
.lead, .facts { margin: 0.25rem 0 0.75rem; } .quiet { color: var(--quiet); font-weight: normal; }
.cards { list-style: none; padding: 0; margin: 1rem 0; display: grid; gap: 1rem; grid-template-columns: repeat(auto-fill, minmax(min(100%, 22rem), 1fr)); }
.card { background: var(--card); border: 1px solid var(--line); border-radius: 0.5rem; padding: 1rem; display: flex; flex-direction: column; }
.card p { margin: 0.25rem 0; } .card .launch { margin-top: auto; }
.launch { padding-top: 0.75rem; } label { display: block; }
select { font: inherit; width: 100%; max-width: 26rem; min-height: 2.75rem; padding: 0.3rem; color: inherit; background: var(--card); border: 1px solid var(--quiet); border-radius: 0.3rem; }
.buttons { display: flex; flex-wrap: wrap; gap: 0.5rem; margin-top: 0.6rem; }
button { font: inherit; min-height: 2.75rem; padding: 0.4rem 0.9rem; border-radius: 0.3rem; border: 1px solid var(--main); background: transparent; color: var(--link); cursor: pointer; }
button.main { background: var(--main); color: var(--on-main); font-weight: 600; }
.tag { display: inline-block; background: var(--tag); border-radius: 0.3rem; padding: 0 0.45rem; font-size: 0.9rem; font-weight: normal; } .tag.new { background: var(--new); color: var(--on-new); }
section { margin-top: 1.5rem; } .entries { list-style: none; padding: 0; margin: 0.5rem 0 0; }
.entries > li { background: var(--card); border: 1px solid var(--line); border-radius: 0.4rem; padding: 0.6rem 0.8rem; margin-bottom: 0.5rem; } .entries p { margin: 0; } .lines { margin: 0.25rem 0; padding-left: 1.2rem; }
fieldset { border: 1px solid var(--line); border-radius: 0.4rem; margin: 1rem 0; background: var(--card); } .option { padding: 0.5rem 0; min-height: 2.75rem; } code { font-size: 0.9rem; }
.framing main { max-width: none; height: calc(100vh - 3.2rem); padding: 0.5rem; display: flex; flex-direction: column; } .framehead h1 { font-size: 1rem; margin: 0; } .framehead { margin: 0 0 0.5rem; display: flex; flex-wrap: wrap; gap: 0.25rem 1.5rem; }
iframe { flex: 1; min-height: 30rem; width: 100%; border: 2px solid var(--line); border-radius: 0.3rem; background: var(--card); }
@media (forced-colors: active) { .tag, .card, .entries > li { border: 1px solid; } }
`;
export const ICON = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 16 16"><rect width="16" height="16" rx="3" fill="#0b5a74"/><path d="M4 8h8M8 4v8" stroke="#fff" stroke-width="2"/></svg>`;
