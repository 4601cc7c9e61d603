import { editDraft } from "../../src/fhir/drafts.ts";
import type { FhirResource } from "../../src/smart/transport.ts";
import { type AtTheScreen, stateOf } from "./clinician.ts";
import type { Flow } from "./matrix.ts";
import { PLAN_TYPES } from "./ward.ts";

/** Changes what the plan says of itself. */
function changed(at: AtTheScreen): void {
  at.items = at.items.map((item) => {
    if (item.kind !== "plan") return item;
    const edited = editDraft(item, "description", "Splint day and night, six weeks.");
    if (!edited.ok) throw new Error(edited.problem);
    return edited.item;
  });
}
const savedDraft = async (at: AtTheScreen): Promise<void> => void (await at.press("draft"));
const readDraft = async (at: AtTheScreen): Promise<void> => {
  await at.press("draft");
  await at.reload();
};

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
  { name: "sign a draft saved on this page", prepare: savedDraft, act: (at) => at.press("sign"), wants: "sign" },
  { name: "sign a draft read from the chart", prepare: readDraft, act: (at) => at.press("sign"), wants: "sign" },
  {
    name: "save a changed draft again",
    prepare: async (at) => {
      await savedDraft(at);
      changed(at);
    },
    act: (at) => at.press("draft"),
    wants: "draft",
  },
];

type Stored = FhirResource & { id: string };
const allOf = (at: AtTheScreen): Stored[] =>
  PLAN_TYPES.flatMap((type) => at.ward.practice.stored(type) as unknown as Stored[]);
/** Of one injury one plan is in force, and no order or visit but those that it points to. */
function oneInForce(at: AtTheScreen): string[] {
  const own = [...at.held().values()].flat() as Stored[];
  const plans = own.filter((one) => one.resourceType === "CarePlan" && stateOf(one) === "active");
  // Where its plan is refused, a document stands for it.
  const documents = own.filter((one) => one.resourceType === "DocumentReference" && one.docStatus === "final");
  if (plans.length === 0 && documents.filter(({ status }) => status === "current").length === 1) return [];
  if (plans.length !== 1) return [`${plans.length} plans are in force`];
  const [plan] = plans;
  const ids = JSON.stringify(plan);
  return own
    .filter(({ resourceType }) => ["ServiceRequest", "Appointment"].includes(resourceType))
    .filter((one) => ["active", "proposed"].includes(stateOf(one)))
    .filter(({ resourceType, id }) => !ids.includes(`"${resourceType}/${id}"`) && !isBooked(at, resourceType, id))
    .map(({ resourceType, id }) => `${resourceType}/${id} is in force and belongs to no plan in force`);
}
/** A visit belongs to the plan by its order. */
function isBooked(at: AtTheScreen, type: string, id: string): boolean {
  if (type !== "Appointment") return false;
  const visit = allOf(at).find((one) => one.resourceType === type && one.id === id);
  const orders = (visit?.basedOn ?? []) as { reference?: string }[];
  return orders.some(({ reference }) =>
    allOf(at).some((one) => `${one.resourceType}/${one.id}` === reference && stateOf(one) === "active"),
  );
}
const GONE = ["entered-in-error", "cancelled"];
/** All of it is marked as what should never have been; records of who did what stay. */
function allTakenBack(at: AtTheScreen): string[] {
  const own = [...at.held()].filter(([key]) => key.startsWith("old:")).flatMap(([, copies]) => copies);
  return own
    .filter(({ resourceType }) => resourceType !== "Provenance")
    .filter((one) => !GONE.includes(stateOf(one)))
    .map((one) => `${one.resourceType}/${one.id} is still ${stateOf(one)}`);
}

/** Flows that end a signed plan: by another that takes its place, or because it should never have been. */
export const ENDED_PLANS: readonly Flow[] = [
  {
    name: "revise a signed plan",
    prepare: (at) => at.comesToRevise(),
    act: (at) => at.press("sign"),
    wants: "sign",
    ends: oneInForce,
  },
  {
    name: "withdraw a signed plan",
    prepare: (at) => at.comesToWithdraw(),
    act: (at) => at.press("sign"),
    wants: "sign",
    ends: allTakenBack,
  },
];

const ONE_BY_ONE = { transaction: false };
/** The same acts where the record system takes one item at a time. */
export const SINGLE_WRITES: readonly Flow[] = [
  ...NEW_PLANS.slice(0, 2),
  ...STORED_PLANS.slice(1, 2),
  ...ENDED_PLANS,
].map((flow) => ({ ...flow, name: `${flow.name}, one by one`, server: ONE_BY_ONE }));
