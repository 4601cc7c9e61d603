import { ownExtension } from "./codings.ts";

/** What the clinic's acts leave on a visit or a time, for whoever reads it next. */

/** On a visit that the clinic booked outside the days of the plan: why. */
export const OUTSIDE_DAYS = ownExtension("outside-days-because");
/** On a visit that was called off for good: why nobody has to arrange it again. */
export const NEED_ENDED = ownExtension("need-ended");
/** On a visit that is asked for once more: the one that did not take place. */
export const ASKED_AGAIN = ownExtension("asked-again-after");
/** On a slot that this program took: the visit it is for. What holds a slot without its visit is found by it. */
export const HELD_FOR = ownExtension("held-for");
