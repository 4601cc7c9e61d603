/** The clinic's screens over the house, as the person at them sees and presses them. */
import { act, cleanup, configure, type queries, render, screen, waitFor, within } from "@testing-library/react";
import userEvent from "@testing-library/user-event";
import { afterEach, beforeEach, expect, vi } from "vitest";
import ClinicDesk from "../../src/app/tasks/arrange-visits/clinic-desk.tsx";
import { type House, MORNING, openHouse } from "./clinic-house.ts";

/** Each test begins on the same morning, on an empty page. */
export function onTheMorning(): void {
  // A list of fifty lines is much to print at every look that finds nothing yet; what is hidden is told by the tests in a browser.
  configure({ asyncUtilTimeout: 20_000, defaultHidden: true, getElementError: (message) => new Error(message ?? "") });
  beforeEach(() => {
    vi.useFakeTimers({ now: MORNING, toFake: ["Date"] });
    window.location.hash = "";
  });
  afterEach(() => {
    cleanup();
    vi.restoreAllMocks();
    vi.useRealTimers();
  });
}
/** The desk with its list read. `view`: "arrange", "booked" or "again". */
export async function openDesk(view: string, house: House = openHouse()) {
  window.location.hash = view;
  const user = userEvent.setup();
  await act(async () => {
    render(<ClinicDesk session={house.session} />);
  });
  await waitFor(() => expectRead());
  return { user, house };
}
function expectRead(): void {
  if (screen.queryByText("The list is being read.")) throw new Error("The list is still being read.");
}
export const button = (name: string | RegExp) => screen.getByRole<HTMLButtonElement>("button", { name });

type Part = ReturnType<typeof within<typeof queries>>;
/**
 * A time after the last day: refused without a reason, then done for one.
 *
 * @param press the button of the act
 * @param untouched what must still hold after the refusal
 */
export async function outsideForAReason(
  user: ReturnType<typeof userEvent.setup>,
  part: Part,
  press: () => HTMLElement,
  reason: string,
  untouched: () => void,
): Promise<void> {
  const day = await part.findByLabelText<HTMLSelectElement>("Day");
  await user.selectOptions(day, [...day.options].find((o) => o.text.endsWith("after the last day"))!.value);
  await user.click(within(part.getByRole("group", { name: "Times of that day" })).getAllByRole("radio")[0]!);
  await user.click(press());
  part.getByText("Say why it lies outside the days of the plan.");
  untouched();
  await user.type(part.getByLabelText("Why outside the days of the plan?"), reason);
  expect(part.queryByText("Say why it lies outside the days of the plan."), "once it is said").toBeNull();
  await user.click(press());
  await screen.findByText(/The doctor who asked for it was told/);
}
