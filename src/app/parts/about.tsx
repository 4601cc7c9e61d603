import { KNOWLEDGE_VERSION } from "../../pathway/asked.ts";
import { BUILD } from "../build.ts";
import { APP_VERSION } from "../version.ts";
import { StepHeading } from "./step-heading.tsx";

/** What this is, for whom, and where it is weak. Always one step away. */
export default function About({ site, moved }: { site: string; moved: boolean }) {
  return (
    <article className="about">
      <StepHeading moved={moved}>About and cautions</StepHeading>
      <h2>What it is for</h2>
      <p>
        Decision support for licensed clinicians who meet a broken finger tip (distal phalanx of a finger or thumb). It
        suggests; you examine, decide and sign. It is not meant for patients, for other bones, or for use without a
        clinician. It is open-source software, not a cleared medical device.
      </p>
      <p>Local policy prevails over anything shown here.</p>
      <h2>How to read it</h2>
      <ul>
        <li>Answers from the chart are proposals. They count once you choose them.</li>
        <li>An open question is never taken as normal. Without a needed answer the plan says what is missing.</li>
        <li>Every line opens to its reason, the findings behind it, the source, its strength, and who disagrees.</li>
        <li>Nothing is written to the chart before you press a button that says so.</li>
      </ul>
      <h2>Known weak spots</h2>
      <ul>
        <li>
          No accepted limit in millimetres or degrees says when this bone counts as displaced. The limits used are
          common practice.
        </li>
        <li>Most intervals between visits are common practice; few are published.</li>
        <li>Some values stand from memory and were not looked up. The lines that use them say so.</li>
        <li>Many sources were read as abstracts only. Each source says how it was read.</li>
        <li>Data on the thumb are thin; the rules for fingers are used.</li>
      </ul>
      <h2>Data</h2>
      <p>
        This page talks only to your record system. It keeps a draft in this browser tab until you sign or close the
        tab, and sends nothing elsewhere.
      </p>
      <h2>Versions</h2>
      <dl>
        <dt>Program</dt>
        <dd>
          {APP_VERSION}
          {BUILD && `, build ${BUILD}`}
        </dd>
        <dt>Clinical knowledge</dt>
        <dd>{KNOWLEDGE_VERSION}</dd>
        <dt>Site policy</dt>
        <dd>{site}</dd>
      </dl>
    </article>
  );
}
