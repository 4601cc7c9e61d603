/** The page an EHR opens: asks for access and goes on, or says why not. Small and without React, to be quick. */
import { loadConfig, type PluginConfig } from "../smart/config.ts";
import { beginLaunch, beginStandaloneLaunch, type LaunchStart, staffIn } from "../smart/launch.ts";
import type { Problem } from "../smart/problem.ts";

const part = (selector: string) => document.querySelector<HTMLElement>(selector)!;

const address = new URL(location.href);

function show(problem: Problem): void {
  part("#status").hidden = true;
  part("#problem-title").textContent = problem.title;
  part("#problem-what").textContent = problem.what;
  part("#problem-next").textContent = problem.next;
  if (problem.kind === "storage-blocked") {
    part("#own-window a").setAttribute("href", address.href);
    part("#own-window").hidden = false;
  }
  part("#problem").hidden = false;
  part("#problem-title").focus();
}

async function follow(starting: Promise<LaunchStart>): Promise<void> {
  const start = await starting;
  // Not `location.href`: the Back button would return here and spend the launch a second time.
  if (start.ok) location.replace(start.goTo);
  else show(start.problem);
}

function offer(config: PluginConfig): void {
  part("#status").hidden = true;
  const list = part("#choice ul");
  for (const issuer of config.issuers) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = issuer.label;
    button.addEventListener("click", () => {
      part("#choice").hidden = true;
      part("#status").hidden = false;
      void follow(beginStandaloneLaunch(address, issuer));
    });
    const item = document.createElement("li");
    item.append(button);
    list.append(item);
  }
  part("#choice").hidden = false;
}

async function run(): Promise<void> {
  const answer = await loadConfig();
  if (!answer.ok) show(answer.problem);
  else if (address.search === "" || (staffIn(address) && address.searchParams.size === 1)) offer(answer.config);
  else await follow(beginLaunch(address, answer.config));
}

void run();
