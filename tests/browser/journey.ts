import type { Page } from "playwright-core";
import { expect } from "vitest";
import type { Stage } from "./stage.ts";

/** The acts of a person at the screen, in the order the job is done. */
export const PEOPLE = { doctor: "emergency", surgeon: "surgeon", clinic: "clinic", coder: "coder" } as const;

/** A mouse press on a control, found as a person finds it: by what it is and what it says. */
export async function press(
  page: Page,
  name: string | RegExp,
  role: "button" | "radio" | "link" | "checkbox" = "button",
): Promise<void> {
  const control = page.getByRole(role, typeof name === "string" ? { name, exact: true } : { name }).first();
  await control.scrollIntoViewIfNeeded();
  const box = await control.boundingBox();
  if (!box) throw new Error(`${role} "${name}" is not on the screen`);
  await control.click();
}

export interface LaunchOptions {
  readonly as?: keyof typeof PEOPLE;
  readonly view?: "Launch" | "Open in a frame" | "Open in its own window";
}
/** From the EHR's list of people to the plugin: one press, with the role chosen before it. */
export async function launch(
  stage: Stage,
  page: Page,
  patient: string,
  { as = "doctor", view = "Launch" }: LaunchOptions = {},
): Promise<void> {
  await page.goto(`${stage.practice.ehrUrl}/desk`);
  const card = page.locator(".card", { has: page.getByRole("heading", { name: patient }) });
  if (as !== "doctor") await card.getByRole("combobox").selectOption(PEOPLE[as]);
  await card.getByRole("button", { name: new RegExp(`^${view} for`) }).click();
}
export async function launched(stage: Stage, page: Page, patient: string, options: LaunchOptions = {}): Promise<void> {
  await launch(stage, page, patient, options);
  await page.getByRole("heading", { level: 1, name: /What do you find|Saved plans/ }).waitFor();
}

/** Every finding of the standard case: one finger, closed bony mallet, an adult, a true lateral film. */
export const STANDARD_CASE = {
  patient: "Odalys Fennimore",
  sharePercent: "25",
} as const;

export async function answerStandardCase(page: Page, seen: { beforeLast?: () => Promise<void> } = {}): Promise<void> {
  await press(page, "These are right");
  await press(page, "None of these");
  await press(page, /^Pink, refill/);
  await press(page, /^Jammed end-on/);
  await press(page, /^Closed, nail intact/);
  await press(page, /^Tip droops/);
  await press(page, /^Dorsal lip fragment/);
  // The focus has gone on to the one measure that the film still owes: it is typed, not pressed.
  await expect
    .poll(() => page.evaluate(() => (document.activeElement as HTMLInputElement | null)?.inputMode))
    .toBe("decimal");
  await page.keyboard.type(STANDARD_CASE.sharePercent);
  await page.keyboard.press("Tab");
  await seen.beforeLast?.();
  await press(page, /^None of these \(/);
}

/** Presses Tab until the control with that name has the focus. */
export async function tabTo(page: Page, name: RegExp, atMost = 250): Promise<void> {
  for (let i = 0; i < atMost; i++) {
    const focused = await page.evaluate(() => {
      const element = document.activeElement as HTMLInputElement | null;
      if (!element || element === document.body) return "";
      const named = (element.getAttribute("aria-labelledby") ?? "")
        .split(" ")
        .map((id) => document.getElementById(id)?.innerText ?? "")
        .join(" ");
      const group = element.closest("fieldset")?.querySelector("legend")?.innerText ?? "";
      const label = element.labels?.[0]?.innerText ?? "";
      const own = element.getAttribute("aria-label") ?? (named.trim() || label || element.innerText);
      return `${own} ${element.tagName === "INPUT" ? group : ""}`.trim();
    });
    if (name.test(focused)) return;
    await page.keyboard.press("Tab");
  }
  throw new Error(`"${name}" cannot be reached with the Tab key`);
}
