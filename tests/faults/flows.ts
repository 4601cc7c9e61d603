import { editDraft } from "../../src/fhir/drafts.ts";
import type { Flow } from "./matrix.ts";
import type { AtTheScreen } from "./ward.ts";

/** Changes what the plan says of itself. */
function changed(at: AtTheScreen): void {
  at.items = at.items.map((item) => {
    if (item.kind !== "plan") return item;
    const edited = editDraft(item, "description", "Splint day and night, six weeks.");
    if (!edited.ok) throw new Error(edited.problem);
    return edited.item;
  });
}

/** Flows in which nothing of the plan is stored before the act. */
export const NEW_PLANS: readonly Flow[] = [
  { name: "sign a new plan", act: (at) => at.press("sign"), wants: "sign" },
  { name: "save a draft", act: (at) => at.press("draft"), wants: "draft" },
  {
    name: "sign a new plan whose answer is lost",
    act: (at) => at.press("sign"),
    wants: "sign",
    always: ({ step }, nth) => (step === "POST transaction" && nth === 1 ? { after: () => "cut" } : undefined),
  },
];

/** Flows over a plan that is stored already. */
export const STORED_PLANS: readonly Flow[] = [
  {
    name: "sign a draft saved on this page",
    prepare: async (at) => void (await at.press("draft")),
    act: (at) => at.press("sign"),
    wants: "sign",
  },
  {
    name: "sign a draft read from the chart",
    prepare: async (at) => {
      await at.press("draft");
      await at.reload();
    },
    act: (at) => at.press("sign"),
    wants: "sign",
  },
  {
    name: "save a changed draft again",
    prepare: async (at) => {
      await at.press("draft");
      changed(at);
    },
    act: (at) => at.press("draft"),
    wants: "draft",
  },
];
