/** Why a fault survives, written by hand; the first pattern that fits "file: key" counts. */
type Reasons = readonly { readonly faults: RegExp; readonly reason: string }[];
/** The reason for a fault by its name. */
export const reasonIn = (reasons: Reasons, name: string): string =>
  reasons.find(({ faults }) => faults.test(name))?.reason ?? "To do: a test or a reason is missing";

/** Of the rules and the program that reads them. */
export const RULE_REASONS: Reasons = [
  {
    faults: /\/then\.\d+ (warn|task|today|advise|later)\/drop$/,
    reason: "A line that is only read is lost: wording is checked by readers of the pathway book, not by tests",
  },
  {
    faults: /^ask\.ts: EqualityOperator: open\.size > 0 → open\.size >= 0$/,
    reason: "Short cut: going through an empty set gives the same answer",
  },
  {
    faults: /^reasoning\/diagram\.ts: .*(FIRST_CAPACITY|REMEMBERED|MOST_NODES|this\.stack\.length|branches\.length)/,
    reason: "Size of a store, or the key of a remembered result: the same answer, with more or less room or work",
  },
  {
    faults:
      /^reasoning\/diagram\.ts: (ConditionalExpression|LogicalOperator|EqualityOperator): .*([ab] === (NEVER|ALWAYS|b)|this\.key\[slot\]|known !== undefined|hangsOnDecided|marks\[node\]|alike|seen\.has)/,
    reason:
      "Short cut: without it the same answer is worked out by the general way (equal statements are one node, which diagram.test.ts proves)",
  },
  {
    faults: /^reasoning\/diagram\.ts: .*this\.levels\[b\]! [-+] this\.levels\[a\]!/,
    reason: "Order in which parts are joined: equal statements are one node in any order, only slower",
  },
  {
    faults: /^reasoning\/diagram\.ts: .*v <=? this\.domains\.length/,
    reason: "One variable past the last: no node can hang on it",
  },
  {
    faults: /^possible\.ts: .*(SPARE_NODES|A_STEP|closed\(pathway)/,
    reason:
      "Short cut, room or breath: the answer without it is the same (possible.test.ts compares both ways), only slower",
  },
  {
    faults: /^reasoning\/statements\.ts: ConditionalExpression: known → false$/,
    reason: "Kept result: without it the same list is made again",
  },
  {
    faults: /^(book\/(changes|words)\.ts: StringLiteral: "" → "Stryker was here!"|book\/.*OptionalChaining)/,
    reason: "Answer for what cannot be missing: no book or policy that is made from the rules comes here",
  },
  {
    faults: /^possible\.ts: EqualityOperator: trace\.signs\[sign\] === "not-asked"/,
    reason: "Short cut: while such a sign is open some rule is possible too, so the exact way is taken anyway",
  },
  {
    faults: /^distal-phalanx\/follow-up\.ts: FUP-5[67]\/when\.jointDislocated\/also (irreducible|yes-not-yet-reduced)$/,
    reason:
      "Never heard: a joint that is not back leaves the ordinary pathway (EX5a, EX5b), which silences the table of these rules",
  },
  {
    faults: /^reasoning\/diagram\.ts: EqualityOperator: i < length → i <= length \(3\)$/,
    reason: "One part more than the node has is copied behind the last node, where the next node is written over it",
  },
  {
    faults: /^reasoning\/diagram\.ts: EqualityOperator: w < (this\.)?words → w <= (this\.)?words/,
    reason:
      "One word past the last: a fixed-length array keeps nothing behind its end, and in the store the next node is written over it",
  },
];

/** Of dates, drafts, transport and writing back. */
export const WRITING_REASONS: Reasons = [
  {
    faults: /^smart\/.*OptionalChaining: (found|seen)\?\.(state|data)/,
    reason:
      "Answer for what cannot be missing: every entry was looked for before, and a page that was read has its list",
  },
  {
    faults: /^smart\/(single-writes\.ts: StringLiteral: "altered"|token\.ts: StringLiteral: "unreachable")/,
    reason: "A name between two parts of one file: any name but the others means the same",
  },
  {
    faults: /^smart\/.*(ObjectLiteral: \{ limit: (MANY|20) \}|\.slice\(0, MOST_TYPES\))/,
    reason: "A bound against answers without end: within it the answer is the same",
  },
  {
    faults: /^fhir\/dates\.ts: ConditionalExpression: value\.length < 10 → false$/,
    reason: "Short cut: a date without a day or a month is read as its first day, which is valid",
  },
  {
    faults: /^smart\/.*ArrayDeclaration: \[\] → \["Stryker was here"\]/,
    reason: "An entry that is no object, where the type allows none: it is passed over as an empty one",
  },
  {
    faults: /^smart\/before-writing\.ts: BooleanLiteral: false → true$/,
    reason:
      "Never read: whether there is more of a list is asked of lists, and the patient on the screen is one resource",
  },
  {
    faults: /^smart\/single-writes\.ts: ConditionalExpression: entry\.urn → true$/,
    reason:
      "A name that nothing points to: what goes over a stored entry has no name of this page, so nothing refers to it",
  },
];
